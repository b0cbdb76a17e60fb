// The power tree: a line is chosen, picked up and set down by keys or by the mouse; what then stands at its side says what
// would change, and nothing is changed before its button is pressed.

import { Outline } from "./outline.js";

const FAR_PX = 6;
const QUESTION_OF_KEY = { s: "split", a: "add", j: "join", Delete: "take-out" };
let outline = null;
let picked = null;
let open = new Set();
let down = null;
let under = null;
let wanted = ""; // where the focus goes after the next answer: a question, or "line"

function work() { return document.querySelector("[data-tree]"); }

function say(words) {
  const said = document.querySelector("[data-tree-said]");
  if (said) said.textContent = words;
}

function begin() {
  outline = new Outline(work());
  outline.foldPanels(open);
  picked = null;
}

// ---- asking the shop's computer

function show(subject, side, more = {}, focus = "line") {
  const query = new URLSearchParams({ side, at: subject, ...more });
  open = new Set(outline.open());
  wanted = focus;
  window.htmx.ajax("GET", `${work().dataset.url}?${query}`, { target: "#tree-work", swap: "outerHTML" });
}

function choose(line) { show(line.dataset.subject, line.dataset.side); }

// feed what was picked up from what it was set down on: the question opens with the answer filled in, to be kept or left
function setDown(from, target) {
  const circuit = from.subject.startsWith("circuit:");
  if (!circuit && !from.subject.startsWith("run:")) {
    say(`Nothing feeds ${from.subject.split(":")[1]}, so there is no feed to move. Add a run to it instead.`);
    return;
  }
  show(from.subject, from.side, { do: circuit ? "move" : "feed", source: target }, "keep");
}

function pick(line) {
  if (picked) picked.classList.remove("picked");
  picked = line;
  if (!line) return;
  line.classList.add("picked");
  say(`${line.querySelector("b").textContent} is picked up. Arrows choose what shall feed it, Enter sets it there, Escape leaves it.`);
}

// ---- keys

document.addEventListener("keydown", (event) => {
  const line = event.target.closest && event.target.closest("[role=treeitem]");
  if (!line || event.ctrlKey || event.metaKey || event.altKey) {
    if (line && event.key.toLowerCase() === "z" && (event.ctrlKey || event.metaKey)) {
      const undo = document.querySelector("[data-undo]");
      if (undo) { wanted = "line"; undo.click(); event.preventDefault(); }
    }
    return;
  }
  const next = outline.next(line, event.key);
  if (next !== undefined) outline.focus(next);
  else if (event.key === "Enter" || event.key === " ") enter(line);
  else if (event.key === "Escape" && picked) { say(""); pick(null); }
  else if (event.key.toLowerCase() === "m") pick(line);
  else if (event.key in QUESTION_OF_KEY || event.key.toLowerCase() in QUESTION_OF_KEY) ask(line, QUESTION_OF_KEY[event.key] || QUESTION_OF_KEY[event.key.toLowerCase()]);
  else if (event.key.length === 1) outline.focus(outline.startingWith(line, event.key.toLowerCase()));
  else return;
  event.preventDefault();
});

function enter(line) {
  if (picked && picked !== line) setDown({ ...picked.dataset }, line.dataset.node);
  else choose(line);
}

function ask(line, question) {
  const circuit = line.dataset.subject.startsWith("circuit:");
  const name = circuit ? (question === "take-out" ? "take-out-circuit" : "move") : question;
  show(line.dataset.subject, line.dataset.side, { do: name }, name);
}

// ---- the mouse, on lines and on boxes of the drawing alike

function holdOf(node) {
  const found = node.closest && node.closest(".tree-line, .tree-drawing [data-subject]");
  if (!found) return null;
  return { element: found, subject: found.dataset.subject, node: found.dataset.node || "", side: found.dataset.side || "supply" };
}

document.addEventListener("click", (event) => {
  const hold = work() && holdOf(event.target);
  if (!hold || event.button || event.ctrlKey || event.metaKey || event.shiftKey) return;
  event.preventDefault();
  if (event.target.closest(".tree-fold") && hold.element.hasAttribute("aria-expanded")) {
    outline.fold(hold.element, hold.element.getAttribute("aria-expanded") === "true");
    return;
  }
  show(hold.subject, hold.side, {}, "pane");
});

document.addEventListener("pointerdown", (event) => {
  if (event.button || event.pointerType === "touch" || !work()) return;
  const hold = holdOf(event.target);
  down = hold ? { hold, x: event.clientX, y: event.clientY, moved: false } : null;
});
document.addEventListener("pointermove", (event) => {
  if (!down) return;
  if (!down.moved && Math.hypot(event.clientX - down.x, event.clientY - down.y) < FAR_PX) return;
  down.moved = true;
  document.body.classList.add("dragging");
  mark(holdOf(document.elementFromPoint(event.clientX, event.clientY) || document.body));
});
document.addEventListener("pointerup", () => {
  if (!down) return;
  const { hold, moved } = down;
  const target = under;
  down = null;
  mark(null);
  document.body.classList.remove("dragging");
  if (!moved) return;
  document.addEventListener("click", (event) => { event.stopPropagation(); event.preventDefault(); }, { capture: true, once: true });
  setTimeout(() => document.dispatchEvent(new MouseEvent("click")), 0); // where no click follows, the guard above goes
  if (target && target.node && target.subject !== hold.subject) setDown(hold, target.node);
});
document.addEventListener("dragstart", (event) => { if (holdOf(event.target)) event.preventDefault(); });

function mark(hold) {
  if (under) under.element.classList.remove("under");
  under = hold && hold.node && hold.subject !== (down && down.hold.subject) ? hold : null;
  if (under) under.element.classList.add("under");
}

// ---- a new thing's kind decides which fields it has

document.addEventListener("change", (event) => {
  if (!event.target.matches || !event.target.matches("[data-kind]")) return;
  const form = event.target.form;
  show(form.elements.at.value, form.elements.side.value, { do: form.elements.do.value, kind: event.target.value }, "kind");
});

// ---- answers

document.addEventListener("htmx:beforeRequest", () => { if (outline) open = new Set(outline.open()); });
document.addEventListener("htmx:afterSettle", (event) => {
  if (!event.detail.elt || event.detail.elt.id !== "tree-work") return;
  begin();
  const wrong = work().querySelector(".field-wrong input, .field-wrong select, [role=alert]");
  const question = work().querySelector("details[open].tree-question");
  if (wrong && question) focusOn(wrong.matches("[role=alert]") ? question.querySelector("input:not([type=hidden]), select, button") : wrong);
  else if (question && wanted === "keep") focusOn(question.querySelector("[data-keep]"));
  else if (question && wanted === "kind") focusOn(question.querySelector("[data-kind]"));
  else if (question && wanted !== "line") focusOn(question.querySelector("input:not([type=hidden]), select, button"));
  else if (wanted === "pane" && window.matchMedia("(max-width: 1060px)").matches) work().querySelector(".tree-pane").scrollIntoView();
  else outline.focus(outline.chosen());
  wanted = "line";
});

function focusOn(field) { if (field) field.focus(); }

document.addEventListener("design-changed", () => {
  if (work().querySelector("details[open]")) { say("Someone changed this build. It shows here when you choose a line."); return; }
  const chosen = outline.chosen();
  if (chosen) show(chosen.dataset.subject, chosen.dataset.side);
});

if (work()) { begin(); work().dataset.ready = "true"; }
