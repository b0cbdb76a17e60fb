// Where the cells of a pasted block go: by a line of heads where it has one, else by their order from the chosen cell.

// "Length, ft" and "length" are one head
function plain(words) { return words.split(/[,(]/)[0].trim().toLowerCase().replace(/[.:]+$/, "").replaceAll("_", " "); }

// what a head may be called, and the column (or the field that only a new row has) it stands for
function columnsByWord(grid) {
  const found = new Map();
  grid.heads.forEach((head, column) => {
    [head.dataset.field, head.dataset.label, head.textContent].forEach((words) => found.set(plain(words), column));
  });
  grid.newFields.forEach(([field, label], place) => {
    const words = place ? [field, label] : [field, label, grid.table.tHead.querySelector(".grid-key").textContent];
    words.forEach((one) => { if (!found.has(plain(one))) found.set(plain(one), field); });
  });
  return found;
}

// the columns that a first line names, null where it is no line of heads, or words saying which head is unknown
export function headsOf(grid, line) {
  const byWord = columnsByWord(grid);
  const columns = line.map((words) => (words === "" ? null : byWord.get(plain(words))));
  const known = columns.filter((column) => column !== undefined && column !== null).length;
  if (known < 2 || known * 2 < line.length) return null;
  const unknown = line.filter((words, place) => columns[place] === undefined);
  if (unknown.length) return `no column here is called ${unknown.map((words) => `“${words}”`).join(" or ")}`;
  const twice = line.find((words, place) => columns[place] !== null && columns.indexOf(columns[place]) !== place);
  return twice === undefined ? columns : `the column “${twice}” stands there twice`;
}

// [row, column, text] of every cell; rows that a head line names by their address are those, all others follow on
export function placed(grid, block, { row, column, heads }) {
  if (!heads) return block.flatMap((line, down) => line.map((text, over) => [row + down, column + over, text]));
  const key = grid.newFields[0][0];
  const named = heads.indexOf(key);
  let next = named < 0 ? row : grid.firstBlankRow();
  return block.flatMap((line) => {
    const own = named < 0 ? undefined : grid.place.get(line[named]);
    const at = own === undefined ? next : own;
    if (own === undefined) next += 1;
    return line.flatMap((text, over) => {
      if (heads[over] === null || heads[over] === undefined) return [];
      if (own !== undefined && typeof heads[over] === "string") return [];
      return [[at, heads[over], text]];
    });
  });
}
