// A block of cells as a spreadsheet puts it on the clipboard: lines of cells with tabs between them; a cell with a tab, a
// line break or a quotation mark in it stands in quotation marks, its own doubled.

export function blockOf(text) {
  const rows = [];
  let row = [];
  let cell = "";
  let quoted = false;
  for (let at = 0; at < text.length; at += 1) {
    const sign = text[at];
    if (quoted) {
      if (sign === '"' && text[at + 1] === '"') { cell += '"'; at += 1; }
      else if (sign === '"') quoted = false;
      else cell += sign;
    } else if (sign === '"' && cell === "") quoted = true;
    else if (sign === "\t") { row.push(cell); cell = ""; }
    else if (sign === "\n") { row.push(cell); rows.push(row); row = []; cell = ""; }
    else if (sign !== "\r") cell += sign;
  }
  if (cell !== "" || row.length) { row.push(cell); rows.push(row); }
  return rows.map((cells) => cells.map((one) => one.replace(/\s*\n\s*/g, " ").trim()));
}

export function textOf(rows) {
  return rows.map((cells) => cells.map(quotedIfNeeded).join("\t")).join("\n");
}

function quotedIfNeeded(cell) {
  return /[\t\n"]/.test(cell) ? `"${cell.replaceAll('"', '""')}"` : cell;
}
