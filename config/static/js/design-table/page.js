// Circuits, runs or loads as a table: typing, pasting and filling down change cells, and nothing is kept before Keep.

import { blockOf, textOf } from "./block.js";
import { Grid } from "./grid.js";
import { headsOf, placed } from "./pasted.js";
import { readRows, send, showRows } from "./server.js";

const CHECK_MS = 300;
const SAID = "design-table-said"; // what is to be said once the page is read again with its new rows

const place = document.querySelector("[data-design-table]");
const table = place && place.querySelector("table.grid");
if (table) start(table);

function start(table) {
  const grid = new Grid(table);
  const may = place.hasAttribute("data-may-edit");
  const shapes = place.querySelector("template[data-mark-shapes]");
  const says = place.querySelector("[data-says]");
  const history = []; // what each step changed, so that it can be taken back before it is kept
  let waiting = null;
  let asked = 0;
  let dragging = false;
  let busy = false;

  function say(words) {
    const said = document.getElementById("said");
    if (said) said.textContent = words;
  }

  function cellsToSend() {
    return Array.from(grid.pending, ([id, text]) => [...id.split("\t"), text]);
  }

  function versions() {
    const keys = new Set(Array.from(grid.pending.keys(), (id) => id.split("\t")[0]).filter((key) => !key.startsWith("+")));
    return Object.fromEntries(Array.from(keys, (key) => [key, Number(grid.rows[grid.place.get(key)].dataset.version)]));
  }

  // ---- changing cells

  function change(cells, step) {
    grid.reach(Math.max(...cells.map(([row]) => row)));
    // of a cell in a new row that nobody typed, the text is filled in: taken back, it is empty
    const before = cells.map(([row, column]) => [
      row, column, grid.isNew(row) ? grid.pending.get(grid.id(row, column)) || "" : grid.text(row, column),
    ]);
    cells.forEach(([row, column, text]) => grid.put(row, column, text));
    history.push({ step, before });
    changed();
  }

  function takeBack() {
    const last = history.pop();
    if (!last) { if (may) undo(); return; }
    last.before.forEach(([row, column, text]) => grid.put(row, column, text));
    say(`${last.step} taken back.`);
    changed();
  }

  function putAllBack() {
    const cells = Array.from(grid.pending.keys(), (id) => grid.find(...id.split("\t")));
    grid.pending.clear();
    history.length = 0;
    grid.showMade({});
    cells.forEach((at) => { if (at) grid.draw(at.row, at.column); });
    changed();
    grid.go(grid.at.row, grid.at.column);
  }

  function changed() {
    clearTimeout(waiting);
    asked += 1;
    grid.keepOneBlank();
    if (!grid.pending.size) { says.hidden = true; grid.clearFaults(); return; }
    says.hidden = false;
    showHead();
    waiting = setTimeout(check, CHECK_MS);
  }

  function showHead(more = "") {
    const keys = new Set(Array.from(grid.pending.keys(), (id) => id.split("\t")[0]));
    const made = Array.from(keys).filter((key) => key.startsWith("+")).length;
    const cells = Array.from(grid.pending.keys()).filter((id) => !id.startsWith("+")).length;
    const rows = keys.size - made;
    const words = [];
    if (made) words.push(`${made} new row${made === 1 ? "" : "s"}`);
    if (cells) words.push(`${cells} cell${cells === 1 ? "" : "s"} in ${rows} row${rows === 1 ? "" : "s"} changed`);
    says.querySelector("[data-says-head]").textContent = `${words.join(", ")}, not kept yet.${more}`;
  }

  async function check() {
    const mine = asked;
    const answer = await send(place, "check", cellsToSend(), {});
    if (mine !== asked) return;
    showAnswer(answer);
  }

  function showAnswer(answer) {
    const faults = answer.faults || [];
    grid.clearFaults();
    grid.showMade(answer.made || {});
    faults.forEach(([key, field, words]) => {
      const at = grid.find(key, field);
      if (at) grid.refuse(at.row, at.column, words);
    });
    const words = answer.says && answer.says.length ? `If you keep it: ${answer.says.join(" · ")}.` : answer.message || "";
    says.querySelector("[data-says-words]").textContent = words;
    const list = says.querySelector("[data-says-faults]");
    list.replaceChildren(...faults.map(faultLine));
    // a change of someone else's can be kept over; a cell that cannot be taken cannot
    const stops = faults.length > 0 && answer.status !== 409;
    says.querySelector("[data-keep-cells]").hidden = stops;
    showHead(stops ? ` ${faults.length} cannot be taken; mend or put back what is marked.` : "");
  }

  function faultLine([key, field, words]) {
    const line = document.createElement("li");
    const at = grid.find(key, field);
    const button = document.createElement("button");
    button.type = "button";
    button.textContent = at ? `${grid.name(at.row, at.column)}: ${words}` : `${key}: ${words}`;
    button.addEventListener("click", () => { if (at) grid.go(at.row, at.column); });
    line.append(button);
    return line;
  }

  async function keep() {
    if (busy || !grid.pending.size) return;
    closeOpen(true);
    busy = true;
    clearTimeout(waiting);
    asked += 1;
    const answer = await send(place, "keep", cellsToSend(), versions());
    busy = false;
    if (answer.status !== 200) {
      Object.entries(answer.versions || {}).forEach(([key, version]) => {
        if (grid.place.has(key)) grid.rows[grid.place.get(key)].dataset.version = version;
      });
      showAnswer(answer);
      return;
    }
    const made = new Set(Array.from(grid.pending.keys(), (id) => id.split("\t")[0]).filter((key) => key.startsWith("+"))).size;
    grid.pending.clear();
    history.length = 0;
    says.hidden = true;
    grid.clearFaults();
    if (made) sessionStorage.setItem(SAID, JSON.stringify({ words: `${made} row${made === 1 ? "" : "s"} made. Findings: ${answer.findings}.`, merged: answer.merged || [] }));
    shown(answer);
    showMerged(answer.merged || []);
    say(`Kept. Findings: ${answer.findings}.`);
    grid.go(grid.at.row, grid.at.column);
  }

  async function undo() {
    if (busy) return;
    busy = true;
    const answer = await send(place, "undo", [], {});
    busy = false;
    if (answer.status !== 200) { tell(answer.message); return; }
    shown(answer);
    showMerged([]);
    say(`Undone. Findings: ${answer.findings}.`);
  }

  function shown(answer) {
    if (!showRows(grid, answer, shapes)) location.reload(); // rows came or went
  }

  // what others changed in the rows just kept stays in sight until the next edit
  function showMerged(lines) {
    const place = document.getElementById("merged");
    const list = document.createElement("ul");
    list.className = "plain-list";
    list.replaceChildren(...lines.map((words) => { const line = document.createElement("li"); line.textContent = `${words}.`; return line; }));
    const head = document.createElement("p");
    head.className = "strong";
    head.textContent = "Your cells stand beside what changed in their rows while you worked on them:";
    place.replaceChildren(...(lines.length ? [head, list] : []));
  }

  function tell(words) {
    const messages = document.getElementById("messages");
    const line = document.createElement("p");
    line.className = "message message-error";
    line.setAttribute("role", "alert");
    line.textContent = words;
    messages.replaceChildren(line);
  }

  // ---- a cell open for typing

  function openCell(typed) {
    if (!may) return;
    const { row, column } = grid.at;
    const cell = grid.cell(row, column);
    if (cell.classList.contains("open")) return;
    const input = document.createElement("input");
    const head = grid.heads[column];
    input.value = typed === undefined ? grid.text(row, column) : typed;
    input.setAttribute("aria-label", grid.name(row, column));
    input.autocomplete = "off";
    if (head.dataset.list) input.setAttribute("list", head.dataset.list);
    if ("figureCell" in head.dataset) input.inputMode = "decimal";
    cell.classList.add("open");
    cell.replaceChildren(input);
    input.focus();
    if (typed === undefined) input.select();
    input.addEventListener("blur", () => closeOpen(true, false));
  }

  function closeOpen(take, focus = true) {
    const input = table.querySelector("td.open input");
    if (!input) return;
    const cell = input.parentElement;
    const at = grid.placeOf(cell);
    const text = input.value.trim();
    cell.classList.remove("open");
    cell.replaceChildren(document.createTextNode(grid.text(at.row, at.column)));
    if (take && text !== grid.text(at.row, at.column)) change([[at.row, at.column, text]], grid.name(at.row, at.column));
    else grid.draw(at.row, at.column);
    if (focus) grid.go(grid.at.row, grid.at.column);
  }

  function typingKey(event) {
    const { row, column } = grid.at;
    if (event.key === "Enter" && (event.ctrlKey || event.metaKey)) { closeOpen(true); keep(); }
    else if (event.key === "Enter") { closeOpen(true); grid.go(row + (event.shiftKey ? -1 : 1), column); }
    else if (event.key === "Tab") { closeOpen(true); grid.go(row, column + (event.shiftKey ? -1 : 1)); }
    else if (event.key === "Escape") closeOpen(false);
    else return;
    event.preventDefault();
  }

  // ---- keys outside an open cell

  const MOVES = {
    ArrowUp: () => [-1, 0], ArrowDown: () => [1, 0], ArrowLeft: () => [0, -1], ArrowRight: () => [0, 1],
    PageUp: () => [-page(), 0], PageDown: () => [page(), 0],
    Home: () => [0, -grid.columnCount], End: () => [0, grid.columnCount],
  };

  function page() { return Math.max(1, Math.floor(grid.frame.clientHeight / grid.rows[0].offsetHeight) - 2); }

  function moveKey(event) {
    const move = MOVES[event.key];
    if (!move) return false;
    let [down, right] = move();
    if (event.ctrlKey || event.metaKey) { down *= grid.rows.length; right *= grid.columnCount; if (event.key === "Home") down = -grid.rows.length; if (event.key === "End") down = grid.rows.length; }
    grid.go(grid.at.row + down, grid.at.column + right, event.shiftKey);
    return true;
  }

  function commandKey(event) {
    const key = event.key.toLowerCase();
    if (event.ctrlKey || event.metaKey) {
      if (key === "d") fillDown();
      else if (key === "z") takeBack();
      else if (key === "enter" || key === "s") keep();
      else if (key === "a") { grid.go(0, 0, false, false); grid.go(grid.rows.length - 1, grid.columnCount - 1, true, false); }
      else return false;
      return true;
    }
    if (!may || event.altKey) return false;
    if (key === "enter" || key === "f2") openCell();
    else if (key === "delete" || key === "backspace") clearChosen();
    else if (event.key.length === 1) openCell(event.key);
    else return false;
    return true;
  }

  table.addEventListener("keydown", (event) => {
    if (event.isComposing) return;
    if (event.target.tagName === "INPUT") { typingKey(event); return; }
    if (moveKey(event) || commandKey(event)) event.preventDefault();
  });

  function clearChosen() {
    const { top, left } = grid.range();
    const cells = grid.chosenTexts().flatMap((line, down) => line.map((_, right) => [top + down, left + right, ""]));
    change(cells, "Clearing");
  }

  function fillDown() {
    if (!may) return;
    const { top, bottom, left, right } = grid.range();
    if (top === bottom) { say("Choose the cell to copy and the cells under it first: Shift with Arrow down."); return; }
    const cells = [];
    for (let row = top + 1; row <= bottom; row += 1) {
      for (let column = left; column <= right; column += 1) cells.push([row, column, grid.text(top, column)]);
    }
    change(cells, "Fill down");
    grid.frame.querySelector("td.here").focus();
  }

  // ---- the clipboard

  table.addEventListener("copy", (event) => {
    if (event.target.tagName === "INPUT") return;
    event.clipboardData.setData("text/plain", textOf(grid.chosenTexts()));
    event.preventDefault();
  });

  table.addEventListener("paste", (event) => {
    if (event.target.tagName === "INPUT" || !may) return;
    event.preventDefault();
    paste(blockOf(event.clipboardData.getData("text/plain")));
  });

  function paste(block) {
    if (!block.length) return;
    const { top, bottom, left, right } = grid.range();
    // one cell fills all that are chosen; a block lies with its corner at the first of them
    if (block.length === 1 && block[0].length === 1) {
      const cells = [];
      for (let row = top; row <= bottom; row += 1) for (let column = left; column <= right; column += 1) cells.push([row, column, block[0][0]]);
      pasted(cells);
      return;
    }
    const heads = block.length > 1 ? headsOf(grid, block[0]) : null;
    if (typeof heads === "string") { tell(`Nothing was pasted: ${heads}.`); return; }
    const cells = placed(grid, heads ? block.slice(1) : block, { row: top, column: left, heads });
    const outside = cells.filter(([, column]) => typeof column === "number" && column >= grid.columnCount).length;
    if (outside || !cells.length) {
      tell(`Nothing was pasted: ${outside} of its cells would lie outside the table. Choose where its first cell goes, or copy fewer.`);
      return;
    }
    pasted(cells);
    if (heads) return;
    const wide = Math.max(...block.map((line) => line.length));
    grid.go(top + block.length - 1, left + wide - 1, false, false);
    grid.other = { row: top, column: left };
    grid.drawChoice();
  }

  function pasted(cells) {
    change(cells, "Paste");
    grid.cell(grid.at.row, grid.at.column).focus({ preventScroll: true });
    say(`${cells.length} cells pasted, not kept yet.`);
  }

  // ---- the mouse

  table.addEventListener("mousedown", (event) => {
    if (event.button || event.target.tagName === "INPUT") return;
    const at = grid.placeOf(event.target);
    if (!at) return;
    closeOpen(true, false);
    grid.go(at.row, at.column, event.shiftKey);
    dragging = true;
    event.preventDefault();
  });
  table.addEventListener("mouseover", (event) => {
    const at = dragging && grid.placeOf(event.target);
    if (at) grid.go(at.row, at.column, true, false);
  });
  document.addEventListener("mouseup", () => { dragging = false; });
  table.addEventListener("dblclick", (event) => { if (grid.placeOf(event.target)) openCell(); });

  // ---- buttons, other people, leaving

  if (may) {
    place.querySelector("[data-fill-down]").addEventListener("click", fillDown);
    place.querySelector("[data-undo]").addEventListener("click", undo);
    place.querySelector("[data-keep-cells]").addEventListener("click", keep);
    place.querySelector("[data-put-cells-back]").addEventListener("click", putAllBack);
  }
  document.addEventListener("design-changed", async () => {
    const answer = await readRows(place);
    if (answer.status === 200) shown(answer);
  });
  window.addEventListener("beforeunload", (event) => { if (grid.pending.size) event.preventDefault(); });

  const said = JSON.parse(sessionStorage.getItem(SAID) || "null");
  sessionStorage.removeItem(SAID);
  if (said) { say(said.words); showMerged(said.merged); }

  grid.go(0, 0, false, false);
  place.dataset.ready = "true";
}
