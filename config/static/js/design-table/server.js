// What the page asks of the shop's computer, and how an answer changes the rows.

const LOST = "The shop's computer did not answer. Nothing was kept; what you typed is still here. Try again.";

export async function send(place, what, cells, versions) {
  const body = new FormData();
  body.set("do", what);
  body.set("cells", JSON.stringify(cells));
  body.set("versions", JSON.stringify(versions));
  const token = document.querySelector('meta[name="csrf-token"]').content;
  return answered(fetch(place.dataset.cellsUrl, { method: "POST", body, headers: { "X-CSRFToken": token, "HX-Request": "true" } }));
}

export async function readRows(place) {
  return answered(fetch(place.dataset.rowsUrl, { headers: { Accept: "application/json" } }));
}

async function answered(request) {
  try {
    const answer = await request;
    if ((answer.headers.get("Content-Type") || "").startsWith("application/json")) {
      return { status: answer.status, ...(await answer.json()) };
    }
    return { status: answer.status || 500, message: messageOf(await answer.text()), faults: [] };
  } catch {
    return { status: 0, message: LOST, faults: [] };
  }
}

// a refusal comes as a line for the place of messages, or as bare words: either way its sentence is what should be read
function messageOf(text) {
  const line = new DOMParser().parseFromString(text, "text/html").body.textContent.trim();
  return line && line.length < 500 ? line : LOST;
}

// change what differs; cells that are typed but not kept stay as they are
export function showRows(grid, answer, shapes) {
  const kept = grid.rows.filter((row) => !("new" in row.dataset));
  if (Object.keys(answer.rows).length !== kept.length || kept.some((row) => !answer.rows[row.dataset.key])) return false;
  kept.forEach((row, index) => {
    const [version, cells, results, worst, words, changed] = answer.rows[row.dataset.key];
    const typed = grid.heads.some((head, column) => grid.pending.has(grid.id(index, column)));
    if (!typed) row.dataset.version = version; // else the row is stale, and keeping it must say so
    cells.forEach((text, column) => {
      grid.kept[index][column] = text;
      if (grid.pending.get(grid.id(index, column)) === text) grid.pending.delete(grid.id(index, column));
      grid.draw(index, column);
    });
    results.forEach((text, column) => {
      const cell = row.cells[grid.first + grid.columnCount + column];
      if (cell && cell.textContent !== text) cell.textContent = text;
    });
    showMarks(row.cells[0], worst, words, changed, shapes);
  });
  showStrip(answer.strip);
  const live = document.querySelector("[data-design-version]");
  live.dataset.designVersion = String(Math.max(Number(live.dataset.designVersion), answer.design_version));
  return true;
}

function showMarks(cell, worst, words, changed, shapes) {
  const mark = `${worst}|${words}|${changed}`;
  if (cell.dataset.mark === mark) return;
  cell.dataset.mark = mark;
  const marks = [];
  if (worst) marks.push(markOf(shapes, worst, words));
  if (changed) marks.push(markOf(shapes, "changed", "Changed since the last revision"));
  cell.replaceChildren(...marks);
}

function markOf(shapes, name, words) {
  const mark = shapes.content.querySelector(`[data-name="${name}"] .mark`).cloneNode(true);
  mark.title = words;
  mark.querySelector(".unseen").textContent = words;
  return mark;
}

function showStrip(markup) {
  const strip = document.getElementById("strip");
  const fresh = new DOMParser().parseFromString(markup, "text/html").getElementById("strip");
  if (!strip || !fresh) return;
  strip.replaceChildren(...fresh.childNodes);
  document.dispatchEvent(new CustomEvent("htmx:oobAfterSwap", { bubbles: true }));
}
