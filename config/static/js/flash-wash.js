// After a swap, figures that changed get a wash of 1.5 s, and one polite sentence says which.
// A figure is [data-figure="name"] with its text in [data-changed]; a .label inside gives it a name to say.
(function () {
  "use strict";
  var known = new Map();
  var waiting = null;
  var news = [];

  function textOf(figure) {
    var value = figure.querySelector("[data-changed]") || figure;
    return value.textContent.replace(/\s+/g, " ").trim();
  }

  function nameOf(figure) {
    var label = figure.querySelector(".label");
    return (label ? label.textContent : figure.dataset.figure).trim();
  }

  function remember() {
    document.querySelectorAll("[data-figure]").forEach(function (figure) {
      known.set(figure.dataset.figure, textOf(figure));
    });
  }

  function wash(figure) {
    figure.classList.remove("wash");
    void figure.getBoundingClientRect();
    figure.classList.add("wash");
    setTimeout(function () { figure.classList.remove("wash"); }, 1500);
  }

  function announce() {
    var place = document.getElementById("said");
    if (place && news.length) place.textContent = news.join(". ") + ".";
    news = [];
    waiting = null;
  }

  function compare() {
    document.querySelectorAll("[data-figure]").forEach(function (figure) {
      var before = known.get(figure.dataset.figure);
      var after = textOf(figure);
      if (before === undefined || before === after) return;
      wash(figure);
      news.push(nameOf(figure) + " now " + after);
    });
    remember();
    if (news.length && !waiting) waiting = setTimeout(announce, 300);
  }

  document.addEventListener("DOMContentLoaded", remember);
  document.addEventListener("htmx:afterSettle", compare);
  document.addEventListener("htmx:oobAfterSwap", compare);
})();
