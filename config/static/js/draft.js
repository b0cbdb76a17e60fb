// What is typed on a floor page is kept on the phone at every keystroke until the server has answered for it.
// <form data-draft="tick:7:123" data-title="2614: Measure …"> belongs to one person and one step: another person who
// signs in on this phone sees nothing of it. The form's event id is kept with it, so that an entry sent twice because the
// first answer never came is still one entry.
// The page that follows an entry carries data-kept-event="<id>": what was kept under that id is let go.
(function () {
  "use strict";
  var PREFIX = "baywright:draft:";
  var SKIP = { csrfmiddlewaretoken: true };

  function store() {
    try { return window.localStorage; } catch (refused) { return null; }
  }

  function read(key) {
    var place = store();
    try { return JSON.parse((place && place.getItem(key)) || "null"); } catch (unreadable) { return null; }
  }

  function keys() {
    var place = store();
    return place ? Object.keys(place).filter(function (key) { return key.indexOf(PREFIX) === 0; }) : [];
  }

  function fieldsOf(form) {
    var fields = {};
    Array.prototype.forEach.call(form.elements, function (field) {
      if (!field.name || SKIP[field.name] || field.type === "file" || field.type === "submit") return;
      fields[field.name] = field.value;
    });
    return fields;
  }

  function keep(form, more) {
    var place = store();
    if (!place) return false;
    var key = PREFIX + form.dataset.draft;
    var before = read(key) || {};
    var draft = Object.assign({}, before, { title: form.dataset.title, page: location.pathname, fields: fieldsOf(form) }, more);
    try { place.setItem(key, JSON.stringify(draft)); } catch (full) { return false; }
    say();
    return true;
  }

  function letGo(eventId) {
    keys().forEach(function (key) {
      var draft = read(key);
      if (!draft || (draft.fields && draft.fields.event_id === eventId)) store().removeItem(key);
    });
    say();
  }

  function restore(form) {
    var draft = read(PREFIX + form.dataset.draft);
    if (!draft || !draft.fields) return;
    // A form that came back with words at its fields holds what was typed last; only the id must stay the same.
    var cameBack = document.querySelector("[data-refused], .field-wrong, .reading-wrong");
    Object.keys(draft.fields).forEach(function (name) {
      var field = form.elements[name];
      if (!field || (cameBack && name !== "event_id")) return;
      field.value = draft.fields[name];
      field.dispatchEvent(new Event("input", { bubbles: true }));
    });
    var remark = document.querySelector("[data-remark]");
    if (remark && draft.fields.remark) remark.open = true;
  }

  // Entries that were pressed and not answered, and how many: in the line of the network and in a list.
  function waiting() {
    return keys().map(read).filter(function (draft) { return draft && draft.pressed; });
  }

  function say() {
    var count = waiting().length;
    var words = count === 0 ? "" : " " + count + (count === 1 ? " entry" : " entries") + " kept on this phone.";
    document.querySelectorAll("[data-net]").forEach(function (net) {
      net.dataset.netGoodWords = net.dataset.netGoodWords || net.dataset.netGood;
      net.dataset.netGood = net.dataset.netGoodWords + words;
      net.dataset.netLost = "No signal." + (words || " What you type is kept on this phone.");
    });
    window.dispatchEvent(new Event(navigator.onLine ? "online" : "offline"));
    list();
  }

  function list() {
    var place = document.querySelector("[data-kept-list]");
    if (!place) return;
    var entries = waiting();
    place.hidden = entries.length === 0;
    var items = entries.map(function (draft) {
      var item = document.createElement("li");
      var link = document.createElement("a");
      link.href = draft.page;
      link.textContent = draft.title;
      item.appendChild(link);
      return item;
    });
    place.querySelector("ul").replaceChildren.apply(place.querySelector("ul"), items);
  }

  document.addEventListener("input", function (event) {
    var form = event.target.form;
    if (form && form.dataset.draft && event.isTrusted) keep(form);
  });
  // step.js tells what became of an entry
  document.addEventListener("floor:pressed", function (event) { keep(event.target, { pressed: true, result: event.detail }); });
  document.addEventListener("floor:answered", function (event) { keep(event.target, { pressed: false }); });
  document.addEventListener("floor:kept", function (event) { letGo(event.detail); });
  document.addEventListener("floor:drawn", function (event) {
    var form = event.target.querySelector("form[data-draft]");
    if (form) restore(form);
  });

  document.addEventListener("DOMContentLoaded", function () {
    var page = document.querySelector("[data-floor]");
    if (page && page.dataset.keptEvent) letGo(page.dataset.keptEvent);
    document.querySelectorAll("form[data-draft]").forEach(restore);
    say();
  });
})();
