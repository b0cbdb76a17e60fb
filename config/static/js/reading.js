// A reading against its limits, as it is typed: the bar and the words at once, and a foot that offers no pass out of
// tolerance. The server checks again with exact decimals; here it is only said early.
//   <div data-reading data-least="" data-most="0.1000" data-lost="" data-unit="V" data-decimals="2">
//     <input data-reading-input> <span data-reading-bar></span> <span data-reading-words></span> <input data-reading-at>
// Where data-lost says how much may be lost on the way, the volts typed in data-reading-at less the reading are judged;
// where data-backward says what a reading below nothing means, none is let through.
//   <div data-foot> … [data-when-in] [data-when-out]
(function () {
  "use strict";
  var SVG = "http://www.w3.org/2000/svg";
  var WIDTH = 300;
  var FIGURE = /^[+-]?(\d+(\.\d*)?|\.\d+)$/;

  function decimalsOf(text) {
    var digits = text.replace(/0+$/, "");
    var point = digits.indexOf(".");
    return point < 0 ? 0 : digits.length - point - 1;
  }

  var MOST_ABOVE_SOURCE_V = 0.5; // as the server has it

  function limit(box, name) {
    return box.dataset[name] ? Number(box.dataset[name]) : null;
  }

  // What is not a figure yet: {state, words, within: null}; null where it is one.
  function unreadable(typed) {
    if (!typed) return { state: "not_measured", words: "Not measured", within: null };
    if (typed.indexOf(",") >= 0) return { state: "note", words: "Write it with a point: 0.06", within: null };
    if (!FIGURE.test(typed)) return { state: "note", words: "Type a number, such as 12.5", within: null };
    return null;
  }

  // What was lost between the battery and the reading: {state, words, within, lost}.
  function judgeLoss(value, battery, most, shown) {
    var unread = unreadable(battery);
    if (unread) return { state: "note", words: "Type the source's volts too: what is lost is judged", within: null };
    var lost = Number(battery) - value;
    if (-lost > MOST_ABOVE_SOURCE_V + 1e-9) return { state: "over", words: shown(-lost) + " more than its source's " + shown(Number(battery)) + "; read both at the same time", within: false };
    var said = shown(value) + " of " + shown(Number(battery)) + " at the source, " + shown(lost) + " lost; ";
    if (lost > most + 1e-9) return { state: "over", words: said + shown(lost - most) + " over " + shown(most), within: false, lost: lost };
    return { state: "within", words: said + shown(Math.max(most - lost, 0)) + " left of " + shown(most), within: true, lost: lost };
  }

  // What a typed text says: {state, words, within}; within is null where nothing can be said yet.
  function judge(text, box, battery) {
    var typed = text.trim();
    var unread = unreadable(typed);
    if (unread) return unread;
    var value = Number(typed);
    var most = limit(box, "most"), least = limit(box, "least"), mayLose = limit(box, "lost");
    function shown(figure) {
      var texts = [typed, mayLose === null ? "" : battery, box.dataset.most, box.dataset.least, box.dataset.lost || ""];
      var places = texts.reduce(function (all, one) { return Math.max(all, decimalsOf(one)); }, Number(box.dataset.decimals));
      var text = figure.toFixed(places);
      var spare = Math.max(Number(box.dataset.decimals), decimalsOf(text));
      return figure.toFixed(spare) + " " + box.dataset.unit;
    }
    if (box.dataset.backward && value < 0) return { state: "over", words: shown(value) + " is below nothing; " + box.dataset.backward, within: false };
    if (box.dataset.backward && least !== null && least <= 0) least = null;
    if (most !== null && value > most) return { state: "over", words: shown(value - most) + " over " + shown(most), within: false };
    if (least !== null && value < least) return { state: "over", words: shown(least - value) + " short of " + shown(least), within: false };
    if (mayLose !== null) return judgeLoss(value, battery, mayLose, shown);
    if (most !== null) return { state: "within", words: "Within: " + shown(most - value) + " left of " + shown(most), within: true };
    if (least !== null) return { state: "within", words: "Within: " + shown(value - least) + " past " + shown(least), within: true };
    return { state: "within", words: shown(value) + ", no limit given", within: true };
  }

  function shape(parent, name, attributes) {
    var made = document.createElementNS(SVG, name);
    Object.keys(attributes).forEach(function (key) { made.setAttribute(key, attributes[key]); });
    parent.appendChild(made);
  }

  // Hollow is used, solid is left, the post stands at the limit and its foot points to the allowed side.
  function bar(place, text, box, verdict) {
    place.replaceChildren();
    var limitText = box.dataset.lost || box.dataset.most || box.dataset.least;
    var end = Number(limitText);
    if (limitText === "" || !(end > 0)) return;
    var atMost = Boolean(box.dataset.lost || box.dataset.most);
    var svg = document.createElementNS(SVG, "svg");
    svg.setAttribute("class", "margin-bar");
    svg.setAttribute("width", String(WIDTH));
    svg.setAttribute("height", "18");
    svg.setAttribute("viewBox", "0 0 " + WIDTH + " 18");
    svg.setAttribute("aria-hidden", "true");
    svg.setAttribute("focusable", "false");
    var post = Math.round((WIDTH - 2) * (atMost ? 0.84 : 0.66));
    var value = verdict.within === null ? null : box.dataset.lost ? (verdict.lost === undefined ? null : verdict.lost) : Number(text.trim());
    var at = value === null ? null : Math.min(Math.max(value * post / end, 1), WIDTH - 2);
    if (value === null) {
      shape(svg, "rect", { x: 1, y: 7, width: post, height: 6, "stroke-width": 1, "stroke-dasharray": "3 2", "class": "f-sheet s-edge" });
    } else {
      shape(svg, "rect", { x: 1, y: 7, width: Math.max(Math.min(at, post) - 1, 1), height: 6, "stroke-width": 1, "class": "f-quiet s-edge" });
      var low = Math.min(at, post), high = Math.max(at, post);
      if (verdict.within) shape(svg, "rect", { x: low, y: 6.5, width: Math.max(high - low, 3), height: 7, "class": "f-good" });
      else shape(svg, "rect", { x: low, y: 5.5, width: Math.max(high - low, 6), height: 9, "stroke-width": 1.4, "stroke-dasharray": "3 2", "class": "f-stop-w s-stop" });
    }
    shape(svg, "path", { d: "M" + (post + 1) + " 3V17H" + (post + 1 + (atMost ? -5 : 5)), "stroke-width": 1.8, fill: "none", "class": "s-text" });
    place.appendChild(svg);
  }

  function show(box) {
    var input = box.querySelector("[data-reading-input]");
    var place = box.querySelector("[data-reading-words]");
    var beside = box.querySelector("[data-reading-at]");
    var verdict = judge(input.value, box, beside ? beside.value.trim() : "");
    bar(box.querySelector("[data-reading-bar]"), input.value, box, verdict);
    var drawn = document.querySelector('template[data-shape="' + verdict.state + '"]');
    var words = document.createElement("span");
    words.className = "state-word";
    words.textContent = verdict.words + (verdict.within === false ? ": it cannot pass" : "");
    place.className = "state tone-" + ({ within: "good", over: "stop", note: "note" }[verdict.state] || "text-2");
    place.replaceChildren();
    if (drawn) place.appendChild(drawn.content.cloneNode(true));
    place.appendChild(words);
    var foot = document.querySelector("[data-foot]");
    if (foot) foot.dataset.out = verdict.within === false ? "yes" : "no";
  }

  function start(scope) {
    scope.querySelectorAll("[data-reading]").forEach(show);
  }

  document.addEventListener("input", function (event) {
    var box = event.target.closest && event.target.closest("[data-reading]");
    if (box && event.target.matches("[data-reading-input], [data-reading-at]")) show(box);
  });
  document.addEventListener("floor:drawn", function (event) { start(event.target); });
  document.addEventListener("DOMContentLoaded", function () { start(document); });
})();
