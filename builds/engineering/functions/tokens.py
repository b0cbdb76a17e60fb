"""Small readings of the tokens and names that the grammar gives."""

from lark import Token, Tree

__all__ = ["first_token", "spaced", "whole"]


def first_token(node: Tree[Token] | Token) -> Token:
    """Return the first token of a tree, or the token itself; an empty one at the start where there is none."""
    if isinstance(node, Token):
        return node
    tokens = list(node.scan_values(lambda value: isinstance(value, Token)))
    return tokens[0] if tokens else Token("NAME", "", start_pos=0)


def whole(text: str) -> int | float:
    """Return what a number as written stands for, as a whole one where it is."""
    number = float(text)
    return int(number) if number == int(number) else number


def spaced(name: str) -> str:
    """Return the name of a class as words."""
    return "".join(f" {letter.lower()}" if letter.isupper() else letter for letter in name).strip()
