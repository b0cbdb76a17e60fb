"""Small readings of the tokens and names that the grammar gives."""

from lark import Token, Tree

__all__ = ["Node", "first_token", "name_of", "offset_of", "said_in", "spaced", "token_of", "tree_of", "whole"]

Node = Tree[Token]


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


def tree_of(node: object) -> Node:
    """Return a child that the grammar gives as a tree."""
    assert isinstance(node, Tree)
    return node


def token_of(node: object) -> Token:
    """Return a child that the grammar gives as a token."""
    assert isinstance(node, Token)
    return node


def name_of(token: Token) -> str:
    """Return the name a token stands for, without its quotation marks."""
    return str(token)[1:-1] if token.type == "QUOTED" else str(token)


def offset_of(token: Token) -> int:
    """Return where a token begins in its statement, from 1."""
    return (token.start_pos or 0) + 1


def said_in(node: object) -> str:
    """Return the text of a clause that may be absent, "" where it is."""
    return "" if node is None else name_of(token_of(tree_of(node).children[0]))
