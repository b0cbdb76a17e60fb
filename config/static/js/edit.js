// A row being edited: <tr class="editing" data-edit> (and <tr class="editing-says"> under it), or any [data-edit].
// Enter presses [data-keep], Escape presses [data-put-back]; afterwards focus returns to the cell it came from.
// A cell that opens an edit carries data-cell="circuit-12-gauge"; the opened field carries data-field-for the same.
(function () {
  "use strict";
  var came = "";

  function inside(node, selector) {
    var edit = node.closest("[data-edit]");
    if (!edit) return null;
    var found = edit.querySelector(selector);
    if (!found && edit.nextElementSibling) found = edit.nextElementSibling.querySelector(selector);
    return found;
  }

  document.addEventListener("click", function (event) {
    var cell = event.target.closest && event.target.closest("[data-cell]");
    if (cell) came = cell.dataset.cell;
  });

  document.addEventListener("keydown", function (event) {
    if (event.isComposing || !event.target.closest) return;
    var wanted = event.key === "Enter" ? "[data-keep]" : event.key === "Escape" ? "[data-put-back]" : "";
    if (!wanted || !event.target.closest("[data-edit]")) return;
    // Enter on a button presses that button; in a text area it is a new line
    if (event.key === "Enter" && event.target.closest("button, a, textarea")) return;
    var button = inside(event.target, wanted);
    if (!button) return;
    event.preventDefault();
    button.click();
  });

  document.addEventListener("htmx:afterSettle", function (event) {
    var place = event.detail.elt && event.detail.elt.isConnected ? event.detail.elt : document;
    var scope = place.closest ? place.closest("tbody, table, section") || document : document;
    var wrong = scope.querySelector("[data-edit] .field-wrong input, [data-edit] [aria-invalid=true]");
    if (wrong) { wrong.focus(); return; }
    var name = window.CSS && CSS.escape ? CSS.escape(came) : came;
    var field = came && scope.querySelector('[data-field-for="' + name + '"]');
    var first = scope.querySelector("[data-edit] input:not([type=hidden]), [data-edit] select");
    if (field || first) {
      if (!scope.contains(document.activeElement) || !document.activeElement.closest("[data-edit]")) {
        (field || first).focus();
        if ((field || first).select) (field || first).select();
      }
      return;
    }
    if (!came) return;
    var cell = document.querySelector('[data-cell="' + name + '"]');
    if (cell && (document.activeElement === document.body || !document.activeElement)) cell.focus();
    came = "";
  });
})();
