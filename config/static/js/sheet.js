// The build's sheet: a row opens for editing where it stands, and what others change is swapped in around open rows.
//   [data-sheet][data-live-url]   the sheet; its address for "what differs from what I show"
//   [data-seen]                   a piece of the sheet with the mark of what it shows
//   tbody[data-row] a[data-open]  the link that opens the row; a click on any [data-cell] of the row does the same
//   a[data-add], a[data-put-back] links whose answer replaces the element named after "#"
(function () {
  "use strict";
  var opened = "";

  function sheet() { return document.querySelector("[data-sheet]"); }

  function marks() {
    return Array.from(document.querySelectorAll("[data-seen]"), function (piece) {
      return piece.id + ":" + piece.dataset.seen;
    }).join(" ");
  }

  function load(address) {
    var parts = address.split("#");
    var target = document.getElementById(parts[1]);
    if (!target || !window.htmx) return false;
    window.htmx.ajax("GET", parts[0], { target: target, swap: "outerHTML", source: target });
    return true;
  }

  document.addEventListener("click", function (event) {
    if (!sheet() || event.defaultPrevented || event.button || event.ctrlKey || event.metaKey || event.shiftKey) return;
    var at = event.target;
    if (!at.closest) return;
    var link = at.closest("a[data-open], a[data-put-back], a[data-add]");
    var row = at.closest("tbody[data-row]");
    if (!link && row && !row.hasAttribute("data-edit") && at.closest("[data-cell]") && !at.closest("a, button, input, select")) {
      if (String(window.getSelection())) return;
      link = row.querySelector("a[data-open]");
    }
    if (!link) return;
    var address = link.getAttribute("href");
    if (link.hasAttribute("data-open")) {
      opened = row.id;
      address = location.pathname + address + "#" + row.id;
    }
    if (load(address)) event.preventDefault();
  });

  document.addEventListener("htmx:configRequest", function (event) {
    var place = sheet();
    if (!place || event.detail.verb === "get" || event.detail.elt.hasAttribute("data-preview")) return;
    event.detail.parameters.seen = marks();
  });

  // someone is typing in this row: it keeps its fields, and hears of the change when it is kept
  document.addEventListener("htmx:oobBeforeSwap", function (event) {
    var target = event.detail.target;
    if (target.classList.contains("new-row")) return; // closed by the answer to its own form
    if (target.matches("[data-edit]") || target.querySelector("[data-edit]")) event.detail.shouldSwap = false;
  });

  // an answer says which edit of the design it shows, so that the stream does not bring it a second time
  document.addEventListener("htmx:afterRequest", function (event) {
    var version = event.detail.xhr && event.detail.xhr.getResponseHeader("X-Design-Version");
    var live = document.querySelector("[data-design-version]");
    if (!version || !live) return;
    var before = Number(live.dataset.designVersion);
    live.dataset.designVersion = String(Math.max(before, Number(version)));
    if (Number(version) > before) window.htmx.trigger(document.body, "design-kept", { design_version: Number(version) });
  });

  document.addEventListener("design-changed", function () {
    var place = sheet();
    if (!place) return;
    window.htmx.ajax("POST", place.dataset.liveUrl, { source: place, target: place, swap: "none" });
  });

  // edit.js puts the focus into an open row; here it goes back to the row that was open
  document.addEventListener("htmx:afterSettle", function () {
    if (!sheet() || !opened || document.activeElement !== document.body) return;
    var row = document.getElementById(opened);
    var link = row && !row.hasAttribute("data-edit") && row.querySelector("a[data-open]");
    if (link) link.focus({ preventScroll: true });
  });

  // the index says which section is being read
  document.addEventListener("DOMContentLoaded", function () {
    if (!sheet() || !window.IntersectionObserver) return;
    var shown = new Set();
    var watcher = new IntersectionObserver(function (entries) {
      entries.forEach(function (entry) {
        if (entry.isIntersecting) shown.add(entry.target); else shown.delete(entry.target);
      });
      var first = Array.from(document.querySelectorAll(".sheets > .sheet")).find(function (one) { return shown.has(one); });
      var anchor = first && first.getAttribute("aria-labelledby");
      document.querySelectorAll("#index-lines a").forEach(function (line) {
        if (anchor && line.getAttribute("href") === "#" + anchor) line.setAttribute("aria-current", "true");
        else line.removeAttribute("aria-current");
      });
    }, { rootMargin: "-130px 0px -60% 0px" });
    document.querySelectorAll(".sheets > .sheet").forEach(function (section) { watcher.observe(section); });
  });
})();
