// The cells of the table: where each is, which one is current, which are chosen, and what is changed but not kept.

export class Grid {
  constructor(table) {
    this.table = table;
    this.frame = table.parentElement;
    this.heads = Array.from(table.tHead.rows[0].querySelectorAll("[data-field]"));
    this.first = this.heads.length ? this.heads[0].cellIndex : 0;
    this.at = { row: 0, column: 0 };
    this.other = { row: 0, column: 0 };
    this.pending = new Map();
    this.chosen = [];
    this.newFields = JSON.parse(table.dataset.newFields || "[]"); // [field, label] of what only a new row is given
    this.blank = this.frame.parentElement.querySelector("template[data-new-row]");
    this.readRows();
    this.keepOneBlank();
  }

  readRows() {
    this.rows = Array.from(this.table.tBodies[0].rows);
    this.place = new Map(this.rows.map((row, index) => [row.dataset.key, index]));
    this.kept = this.rows.map((row) => this.heads.map((head, column) => row.cells[this.first + column].textContent));
  }

  isNew(row) { return "new" in this.rows[row].dataset; }

  get newRows() { return this.rows.filter((row) => "new" in row.dataset); }

  isBlank(row) {
    const start = `${this.rows[row].dataset.key}\t`;
    return this.isNew(row) && !Array.from(this.pending.keys()).some((id) => id.startsWith(start));
  }

  firstBlankRow() {
    let row = this.rows.length;
    while (row > 0 && this.isBlank(row - 1)) row -= 1;
    return row;
  }

  // rows up to this one, new ones where the table has none yet
  reach(row) {
    while (this.blank && this.rows.length <= row) {
      const made = this.blank.content.firstElementChild.cloneNode(true);
      made.dataset.key = `+${this.newRows.length + 1}`;
      this.table.tBodies[0].append(made);
      this.place.set(made.dataset.key, this.rows.length);
      this.rows.push(made);
      this.kept.push(this.heads.map(() => ""));
    }
  }

  // one empty row at the end is the place of a new one
  keepOneBlank() {
    if (!this.blank) return;
    const least = this.firstBlankRow() + 1;
    this.reach(least - 1);
    while (this.rows.length > least) {
      const gone = this.rows.pop();
      this.kept.pop();
      this.place.delete(gone.dataset.key);
      gone.remove();
    }
    this.at.row = Math.min(this.at.row, this.rows.length - 1);
    this.other.row = Math.min(this.other.row, this.rows.length - 1);
  }

  // what the shop's computer would make of a new row, in the cells that nobody typed
  showMade(made) {
    this.newRows.forEach((line) => {
      const row = this.place.get(line.dataset.key);
      const [key, texts] = made[line.dataset.key] || ["", this.heads.map(() => "")];
      this.kept[row] = texts;
      const typed = this.newFields.length && this.pending.get(`${line.dataset.key}\t${this.newFields[0][0]}`);
      line.querySelector(".grid-key").textContent = typed || key || "new";
      texts.forEach((text, column) => this.draw(row, column));
    });
  }

  get columnCount() { return this.heads.length; }

  // a column by its place, or a field that only a new row has: that stands in the head of the row
  cell(row, column) {
    return typeof column === "string" ? this.rows[row].querySelector(".grid-key") : this.rows[row].cells[this.first + column];
  }

  field(column) { return typeof column === "string" ? column : this.heads[column].dataset.field; }

  name(row, column) {
    const label = typeof column === "string" ? this.newFields.find(([field]) => field === column)[1] : this.heads[column].dataset.label;
    const place = this.isNew(row) ? `New row ${this.rows[row].dataset.key.slice(1)}` : this.rows[row].dataset.key;
    return `${place}, ${label}`;
  }

  id(row, column) { return `${this.rows[row].dataset.key}\t${this.field(column)}`; }

  // the place of a cell by its row's key and field; null where the row is gone
  find(key, field) {
    const row = this.place.get(key);
    if (row === undefined) return null;
    const column = this.heads.findIndex((head) => head.dataset.field === field);
    if (column >= 0) return { row, column };
    return this.newFields.some(([name]) => name === field) ? { row, column: field } : null;
  }

  text(row, column) {
    const changed = this.pending.get(this.id(row, column));
    return changed === undefined ? this.kept[row][column] || "" : changed;
  }

  // put a text into a cell without keeping it
  put(row, column, text) {
    this.reach(row);
    const id = this.id(row, column);
    if (text === (this.isNew(row) ? "" : this.kept[row][column])) this.pending.delete(id);
    else this.pending.set(id, text);
    this.draw(row, column);
  }

  draw(row, column) {
    const cell = this.cell(row, column);
    if (cell.classList.contains("open")) return;
    const text = this.text(row, column);
    if (typeof column === "string") {
      if (column === this.newFields[0][0]) cell.textContent = text || "new";
      if (!this.pending.has(this.id(row, column))) this.unrefuse(cell);
      return;
    }
    if (cell.textContent !== text) cell.textContent = text;
    const changed = this.pending.has(this.id(row, column));
    cell.classList.toggle("pending", changed);
    if (!changed) this.unrefuse(cell);
    if (this.isNew(row)) cell.title = changed ? "Not kept yet" : "Filled in from the rows beside it; type to change it";
    else if (changed) cell.title = `Not kept yet; it was ${this.kept[row][column] || "empty"}`;
    else cell.removeAttribute("title");
  }

  refuse(row, column, words) {
    const cell = this.cell(row, column);
    cell.classList.add("refused");
    cell.setAttribute("aria-invalid", "true");
    cell.title = words;
  }

  unrefuse(cell) {
    cell.classList.remove("refused");
    cell.removeAttribute("aria-invalid");
  }

  clearFaults() {
    this.table.querySelectorAll(".refused").forEach((cell) => this.unrefuse(cell));
  }

  range() {
    return {
      top: Math.min(this.at.row, this.other.row), bottom: Math.max(this.at.row, this.other.row),
      left: Math.min(this.at.column, this.other.column), right: Math.max(this.at.column, this.other.column),
    };
  }

  // move to a cell; with `extend` the other corner of the choice stays where it is
  go(row, column, extend = false, focus = true) {
    if (typeof column === "string") column = 0;
    const before = this.cell(this.at.row, this.at.column);
    before.classList.remove("here");
    before.removeAttribute("tabindex");
    this.at = {
      row: Math.max(0, Math.min(this.rows.length - 1, row)),
      column: Math.max(0, Math.min(this.columnCount - 1, column)),
    };
    if (!extend) this.other = { ...this.at };
    const cell = this.cell(this.at.row, this.at.column);
    cell.classList.add("here");
    cell.tabIndex = 0;
    if (focus) {
      cell.focus({ preventScroll: true });
      cell.scrollIntoView({ block: "nearest", inline: "nearest" });
    }
    this.drawChoice();
  }

  drawChoice() {
    this.chosen.forEach((cell) => { cell.classList.remove("chosen"); cell.removeAttribute("aria-selected"); });
    const { top, bottom, left, right } = this.range();
    this.chosen = [];
    if (top === bottom && left === right) return;
    for (let row = top; row <= bottom; row += 1) {
      for (let column = left; column <= right; column += 1) this.chosen.push(this.cell(row, column));
    }
    this.chosen.forEach((cell) => { cell.classList.add("chosen"); cell.setAttribute("aria-selected", "true"); });
  }

  chosenTexts() {
    const { top, bottom, left, right } = this.range();
    const rows = [];
    for (let row = top; row <= bottom; row += 1) {
      const cells = [];
      for (let column = left; column <= right; column += 1) cells.push(this.text(row, column));
      rows.push(cells);
    }
    return rows;
  }

  // the place of the cell that an event happened in; null outside the cells one may type in
  placeOf(node) {
    const cell = node.closest ? node.closest("td") : null;
    const row = cell ? this.place.get(cell.parentElement.dataset.key) : undefined;
    const column = cell ? cell.cellIndex - this.first : -1;
    return row === undefined || column < 0 || column >= this.columnCount ? null : { row, column };
  }
}
