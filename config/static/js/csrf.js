// Every request that htmx sends carries the page's token, read from <meta name="csrf-token">.
(function () {
  "use strict";
  document.addEventListener("htmx:configRequest", function (event) {
    var meta = document.querySelector('meta[name="csrf-token"]');
    if (meta && event.detail.verb !== "get") event.detail.headers["X-CSRFToken"] = meta.content;
  });
})();
