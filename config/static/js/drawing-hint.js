// A drawing that is wider than its place says so, in words: without them nobody looks for what is cut off at the right.
(function () {
  "use strict";
  function look() {
    document.querySelectorAll(".drawing").forEach(function (place) {
      place.classList.toggle("drawing-wider", place.scrollWidth > place.clientWidth + 1);
    });
  }
  document.addEventListener("DOMContentLoaded", look);
  document.addEventListener("htmx:afterSettle", look);
  window.addEventListener("load", look);
  window.addEventListener("resize", look);
})();
