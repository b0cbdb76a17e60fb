// What to say when an answer does not come, or comes as an error: in words, where messages stand, never vanishing.
(function () {
  "use strict";
  var LOST = "The shop's computer did not answer. Nothing was kept; what you typed is still here. Try again.";
  var WORDS = {
    403: "This is not yours to change. Nothing was kept.",
    404: "This is no longer here. Read the page again.",
    429: "Too many tries. Wait a minute, then try again.",
  };

  function say(sentence) {
    var place = document.getElementById("messages");
    if (!place) return;
    var line = document.createElement("p");
    line.className = "message message-error";
    line.setAttribute("role", "alert");
    line.textContent = sentence;
    place.replaceChildren(line);
    line.scrollIntoView({ block: "nearest" });
  }

  document.addEventListener("htmx:sendError", function () { say(LOST); });
  document.addEventListener("htmx:timeout", function () { say(LOST); });
  document.addEventListener("htmx:responseError", function (event) {
    var status = event.detail.xhr ? event.detail.xhr.status : 0;
    say(WORDS[status] || "The shop's computer could not do this. Nothing was kept. Try again, or tell the manager.");
  });
  document.addEventListener("htmx:beforeRequest", function () {
    var place = document.getElementById("messages");
    var line = place && place.querySelector('[role="alert"]');
    if (line) line.remove();
  });
})();
