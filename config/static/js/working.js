// A figure that leads to how it came about: a[data-working] opens in the panel over the page instead of on its own page.
//   dialog[data-working-panel] with [data-working-body]; Escape and its button close it, focus goes back to the figure
(function () {
  "use strict";

  function panel() { return document.querySelector("dialog[data-working-panel]"); }

  document.addEventListener("click", function (event) {
    if (event.defaultPrevented || event.button || event.ctrlKey || event.metaKey || event.shiftKey) return;
    var link = event.target.closest && event.target.closest("a[data-working]");
    var place = panel();
    if (!link || !place || !place.showModal || !window.htmx) return;
    event.preventDefault();
    var body = place.querySelector("[data-working-body]");
    window.htmx.ajax("GET", link.href, { target: body, source: body, swap: "innerHTML" }).then(function () {
      if (!body.firstElementChild) return;
      if (!place.open) place.showModal();
      var title = body.querySelector("#working-title");
      if (title) title.focus();
      place.scrollTop = 0;
    });
  });
})();
