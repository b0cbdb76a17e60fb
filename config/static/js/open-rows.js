// Who has which row open: this screen says what it has open, and shows the names of others in the margin of their rows.
//   [data-sheet][data-open-url]   where it is said; without it this person edits nothing
//   template[data-held-mark]      the shape that stands before a name
(function () {
  "use strict";
  var AGAIN_MS = 30000;
  var FORGET_MS = 75000;
  var mine = "";
  var others = new Map();

  function sheet() { return document.querySelector("[data-sheet]"); }

  function say(row, open) {
    var place = sheet();
    if (!place || !place.dataset.openUrl || !row) return;
    var body = new FormData();
    body.set("row", row);
    body.set("open", open ? "1" : "0");
    var token = document.querySelector('meta[name="csrf-token"]').content;
    fetch(place.dataset.openUrl, { method: "POST", body: body, headers: { "X-CSRFToken": token }, keepalive: true })
      .catch(function () { /* the next time says it again */ });
  }

  function look() {
    var edit = document.querySelector("[data-row][data-edit]");
    var now = edit ? edit.dataset.row : "";
    if (now !== mine) {
      if (mine) say(mine, false);
      if (now) say(now, true);
      mine = now;
    }
    show();
  }

  // a name stands in the margin until its person leaves the row, or is not heard of any more
  function show() {
    var now = Date.now();
    others.forEach(function (open, row) { if (open.until < now) others.delete(row); });
    document.querySelectorAll(".open-by").forEach(function (mark) {
      var row = mark.closest("[data-row]");
      var open = row && others.get(row.dataset.row);
      if (!open || mark.dataset.by !== open.by || row.hasAttribute("data-edit")) mark.remove();
    });
    others.forEach(function (open, row) {
      var place = document.querySelector('[data-row="' + CSS.escape(row) + '"]');
      if (!place || place.hasAttribute("data-edit") || place.querySelector(".open-by")) return;
      place.querySelector(".col-mark").append(markOf(open.by));
    });
  }

  function markOf(by) {
    var mark = document.createElement("span");
    mark.className = "open-by";
    mark.dataset.by = by;
    mark.title = by + " has this row open";
    mark.append(document.querySelector("template[data-held-mark]").content.cloneNode(true), by);
    var more = document.createElement("span");
    more.className = "unseen";
    more.textContent = " has this row open";
    mark.append(more);
    return mark;
  }

  document.addEventListener("row-open", function (event) {
    var news = event.detail;
    if (!sheet() || news.row === mine) return;
    if (news.open) others.set(news.row, { by: news.by, until: Date.now() + FORGET_MS });
    else others.delete(news.row);
    show();
  });
  document.addEventListener("htmx:afterSettle", look);
  document.addEventListener("htmx:oobAfterSwap", show);
  document.addEventListener("DOMContentLoaded", look);
  window.addEventListener("pagehide", function () { if (mine) say(mine, false); });
  setInterval(function () { if (mine) say(mine, true); show(); }, AGAIN_MS);
})();
