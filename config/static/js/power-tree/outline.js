// The lines of the outline: which are shown, how the keys move among them, and which are folded away.

export class Outline {
  constructor(root) {
    this.root = root;
    this.lines = Array.from(root.querySelectorAll("[role=treeitem]"));
  }

  shown() { return this.lines.filter((line) => !line.parentElement.hidden); }

  chosen() { return this.lines.find((line) => line.getAttribute("aria-selected") === "true") || this.lines[0]; }

  level(line) { return Number(line.getAttribute("aria-level")); }

  // every line under this one, down to the next of its own level
  under(line) {
    const from = this.lines.indexOf(line) + 1;
    const end = this.lines.findIndex((other, at) => at >= from && (this.level(other) <= this.level(line) || other.dataset.side !== line.dataset.side));
    return this.lines.slice(from, end < 0 ? undefined : end);
  }

  parent(line) {
    const before = this.lines.slice(0, this.lines.indexOf(line)).reverse();
    return before.find((other) => this.level(other) < this.level(line) && other.dataset.side === line.dataset.side);
  }

  fold(line, folded) {
    if (!line.hasAttribute("aria-expanded")) return;
    line.setAttribute("aria-expanded", String(!folded));
    const hiddenBelow = [];
    this.under(line).forEach((other) => {
      while (hiddenBelow.length && this.level(other) <= hiddenBelow.at(-1)) hiddenBelow.pop();
      other.parentElement.hidden = folded || hiddenBelow.length > 0;
      if (other.getAttribute("aria-expanded") === "false") hiddenBelow.push(this.level(other));
    });
  }

  // panels with many circuits start folded, unless the chosen line is inside
  foldPanels(open) {
    this.lines.forEach((line) => {
      const circuits = this.under(line).filter((other) => other.dataset.subject.startsWith("circuit:"));
      const own = circuits.length && this.level(circuits[0]) === this.level(line) + 1;
      if (own && !open.has(line.id) && !this.under(line).includes(this.chosen())) this.fold(line, true);
    });
  }

  open() { return this.lines.filter((line) => line.getAttribute("aria-expanded") === "true").map((line) => line.id); }

  focus(line) {
    if (!line) return;
    this.lines.forEach((other) => { other.tabIndex = -1; });
    line.tabIndex = 0;
    line.focus({ preventScroll: true });
    line.scrollIntoView({ block: "nearest" });
  }

  // where a key leads from a line; undefined where it is no key of the outline
  next(line, key) {
    const shown = this.shown();
    const at = shown.indexOf(line);
    if (key === "ArrowDown") return shown[at + 1] || line;
    if (key === "ArrowUp") return shown[at - 1] || line;
    if (key === "Home") return shown[0];
    if (key === "End") return shown.at(-1);
    if (key === "ArrowRight") {
      if (line.getAttribute("aria-expanded") === "false") { this.fold(line, false); return line; }
      return line.getAttribute("aria-expanded") === "true" ? shown[at + 1] : line;
    }
    if (key === "ArrowLeft") {
      if (line.getAttribute("aria-expanded") === "true") { this.fold(line, true); return line; }
      return this.parent(line) || line;
    }
    return undefined;
  }

  // type-ahead: the next line whose key starts so
  startingWith(line, letter) {
    const shown = this.shown();
    const at = shown.indexOf(line);
    return [...shown.slice(at + 1), ...shown.slice(0, at + 1)].find((other) =>
      other.querySelector("b").textContent.toLowerCase().startsWith(letter));
  }
}
