// The person's choice of light, dark or glare, kept in a cookie so that the server can draw the page in it at once.
(function () {
  "use strict";
  var KNOWN = ["light", "dark", "glare"];

  function chosen() {
    var found = document.cookie.match(/(?:^|; )theme=([a-z]+)/);
    return found && KNOWN.indexOf(found[1]) >= 0 ? found[1] : "";
  }

  function show(theme) {
    if (theme) document.documentElement.setAttribute("data-theme", theme);
    else document.documentElement.removeAttribute("data-theme");
  }

  function keep(theme) {
    var age = theme ? 60 * 60 * 24 * 365 : 0;
    var secure = location.protocol === "https:" ? "; Secure" : "";
    document.cookie = "theme=" + theme + "; path=/; max-age=" + age + "; SameSite=Lax" + secure;
    show(theme);
  }

  show(chosen());
  document.addEventListener("DOMContentLoaded", function () {
    document.querySelectorAll("[data-theme-choice]").forEach(function (choice) {
      choice.hidden = false;
      choice.querySelectorAll("input").forEach(function (input) {
        input.checked = input.value === chosen();
        input.addEventListener("change", function () { keep(input.value); });
      });
    });
  });
})();
