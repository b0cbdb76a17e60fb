// A line of the parts bill looks its number up: input[data-catalogue] asks that address for what fits, and what is known.
// Choosing a number fills the other fields of the row, but for those a person has typed in themselves.
(function () {
  "use strict";
  var waiting = 0;
  var asked = 0;

  function row(input) { return input.closest("[data-edit]"); }

  function field(input, name) {
    return Array.from(row(input).querySelectorAll("input, select")).find(function (one) {
      return one.name === name && one.type !== "hidden";
    });
  }

  function offer(input, offers) {
    var list = document.getElementById(input.getAttribute("list"));
    if (!list) return;
    list.replaceChildren.apply(list, offers.map(function (one) {
      var option = document.createElement("option");
      option.value = one[0];
      option.textContent = one[1];
      return option;
    }));
  }

  function say(input, words) {
    var hint = document.getElementById(input.id + "_helptext");
    if (!hint || !words) return;
    hint.setAttribute("aria-live", "polite");
    hint.textContent = words;
  }

  // tells the server that the ticks of the row are what the person saw, not what an empty row starts with
  function mark(input) {
    var form = document.getElementById(input.getAttribute("form"));
    if (!form) return;
    var shown = form.querySelector('[name="catalogue-shown"]') || form.appendChild(document.createElement("input"));
    shown.type = "hidden";
    shown.name = "catalogue-shown";
    shown.value = input.value.trim();
  }

  function fill(input, fields) {
    var filled = null;
    Object.keys(fields).forEach(function (name) {
      var one = field(input, name);
      if (!one || one.dataset.typed) return;
      if (one.type === "checkbox") one.checked = fields[name]; else one.value = fields[name];
      filled = one;
    });
    mark(input);
    if (filled) filled.dispatchEvent(new Event("change", { bubbles: true })); // the preview of an open row hears it
  }

  function ask(input) {
    var typed = input.value.trim();
    var mine = ++asked;
    var was = row(input).querySelector('[name="was-part_number"]');
    fetch(input.dataset.catalogue + "?q=" + encodeURIComponent(typed), { headers: { Accept: "application/json" }, credentials: "same-origin" })
      .then(function (answer) { return answer.ok ? answer.json() : null; })
      .then(function (known) {
        if (!known || mine !== asked || !input.isConnected || input.value.trim() !== typed) return;
        offer(input, known.offers);
        say(input, known.words);
        if (known.known && !(was && was.value === typed)) fill(input, known.fields);
      })
      .catch(function () { /* without an answer the number is typed as before, and the server looks it up */ });
  }

  document.addEventListener("input", function (event) {
    var input = event.target;
    if (!event.isTrusted || !input.closest || !input.closest("[data-edit]")) return;
    if (!input.dataset.catalogue) { if (input.value) input.dataset.typed = "1"; else delete input.dataset.typed; return; }
    clearTimeout(waiting);
    waiting = setTimeout(ask, 200, input);
  });
})();
