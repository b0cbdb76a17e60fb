// Sends an entry of a step without leaving the page until the server has answered: what was typed stays in sight and on
// the phone when it does not. Without this file the form is sent as any form is.
(function () {
  "use strict";
  var DEVICE = "baywright:device";
  var SEQUENCE = "baywright:sequence";

  function random(length) {
    var bytes = new Uint8Array(length);
    window.crypto.getRandomValues(bytes);
    return Array.prototype.map.call(bytes, function (byte) { return ("0" + byte.toString(16)).slice(-2); }).join("");
  }

  // The device's own name and its running number; without a place to keep them none is sent.
  function stamp(form) {
    if (form.elements.made_at) form.elements.made_at.value = form.elements.made_at.value || new Date().toISOString();
    if (!form.elements.device || form.elements.device.value) return;
    try {
      var device = localStorage.getItem(DEVICE) || random(12);
      var sequence = Number(localStorage.getItem(SEQUENCE) || "0") + 1;
      localStorage.setItem(DEVICE, device);
      localStorage.setItem(SEQUENCE, String(sequence));
      form.elements.device.value = device;
      form.elements.device_sequence.value = String(sequence);
    } catch (refused) { /* no place to keep a name: the id of the entry alone makes it one */ }
  }

  function tell(form, name, detail) {
    form.dispatchEvent(new CustomEvent(name, { bubbles: true, detail: detail }));
  }

  function notSent(words) {
    var place = document.querySelector("[data-not-sent]");
    if (!place) return;
    place.hidden = false;
    place.querySelector("[data-not-sent-words]").textContent = words;
    place.scrollIntoView({ block: "nearest" });
  }

  function busy(on) {
    document.querySelectorAll(".foot .button").forEach(function (button) {
      if (on) button.setAttribute("aria-disabled", "true");
      else button.removeAttribute("aria-disabled");
    });
  }

  // Draws the page that came back in place of this one, its words at its fields.
  function draw(html) {
    var page = new DOMParser().parseFromString(html, "text/html");
    var fresh = page.querySelector("[data-floor]");
    var here = document.querySelector("[data-floor]");
    if (!fresh || !here) return false;
    here.replaceWith(fresh);
    var foot = document.querySelector(".foot");
    var freshFoot = page.querySelector(".foot");
    if (foot && freshFoot) foot.replaceWith(freshFoot);
    else if (foot) foot.remove();
    fresh.dispatchEvent(new CustomEvent("floor:drawn", { bubbles: true }));
    var wrong = fresh.querySelector("[aria-invalid=true], .field-wrong input, .field-wrong textarea, [data-refused]");
    if (wrong) wrong.focus();
    prepare();
    return true;
  }

  function signedOut(response) {
    var page = document.querySelector("[data-floor]");
    return response.redirected && new URL(response.url).pathname === page.dataset.signIn;
  }

  function send(form, button) {
    stamp(form);
    tell(form, "floor:pressed", button ? button.value : "");
    var body = new FormData(form);
    if (button && button.name) body.append(button.name, button.value);
    var eventId = form.elements.event_id.value;
    busy(true);
    fetch(form.action, { method: "POST", body: body, credentials: "same-origin" })
      .then(function (response) {
        if (signedOut(response)) { notSent("You are signed out. Sign in again in another tab, then press again; what you typed is kept on this phone."); return busy(false); }
        var kept = new URL(response.url).searchParams.get("kept");
        if (response.ok && kept === eventId) {
          tell(form, "floor:kept", eventId);
          location.assign(response.url);
          return;
        }
        if (response.status >= 500) throw new Error(String(response.status));
        tell(form, "floor:answered");
        return response.text().then(function (html) {
          if (!draw(html)) notSent("This could not be taken. Read the page again; what you typed is kept on this phone.");
          busy(false);
        });
      })
      .catch(function () {
        notSent("Not sent: the shop's computer did not answer. Your entry is kept on this phone. Press again when there is signal.");
        busy(false);
      });
  }

  function sendPhoto(form) {
    var words = document.querySelector("[data-photo-words]");
    var input = form.querySelector("[data-photo-input]");
    if (!input.files.length) return;
    words.textContent = "Sending the photo …";
    fetch(form.action, { method: "POST", body: new FormData(form), credentials: "same-origin" })
      .then(function (response) {
        if (signedOut(response)) { words.textContent = "You are signed out. Sign in again, then take the photo again."; return null; }
        return response.text().then(function (html) {
          var page = new DOMParser().parseFromString(html, "text/html");
          var fresh = page.querySelector("[data-photos]");
          var refused = page.querySelector("[data-photo-refused]");
          if (response.ok && fresh) {
            document.querySelector("[data-photos]").replaceWith(fresh);
            form.replaceWith(page.querySelector("[data-photo-form]")); // the next photo has an id of its own
            prepare();
          }
          else words.textContent = refused ? refused.textContent.trim() : "The photo was not kept. Take it again.";
        });
      })
      .catch(function () {
        // the id of the form stays, so that the same photo sent again is one photo
        words.textContent = "The photo was not sent: no signal. Photos are not kept on this phone; take it again when there is signal.";
      });
  }

  function prepare() {
    document.querySelectorAll("[data-without-script]").forEach(function (button) { button.hidden = true; });
  }

  document.addEventListener("submit", function (event) {
    var form = event.target;
    if (form.matches("[data-photo-form]")) {
      event.preventDefault();
      sendPhoto(form);
    } else if (form.matches("form[data-draft]")) {
      event.preventDefault();
      if (event.submitter && event.submitter.getAttribute("aria-disabled") === "true") return;
      send(form, event.submitter);
    }
  });
  document.addEventListener("change", function (event) {
    if (event.target.matches("[data-photo-input]")) sendPhoto(event.target.form);
  });
  document.addEventListener("DOMContentLoaded", prepare);
})();
