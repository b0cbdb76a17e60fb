// What would go on by itself stands still where the device asks for less motion: only a press moves the picture on.
(function () {
  "use strict";
  const calm = window.matchMedia("(prefers-reduced-motion: reduce)");
  document.addEventListener("htmx:beforeRequest", function (event) {
    if (calm.matches && event.detail.elt.matches("[data-by-itself]")) {
      event.preventDefault();
    }
  });
})();
