// Other people's edits arrive here. One element of the page carries
//   data-design-version  the version that this page shows (any part of the page may carry it; the highest counts)
//   data-events-url      address of the event stream, empty where none is served
//   data-version-url     address that answers {"design_version": n}, asked every 10 s while there is no stream
// and [data-live-words] somewhere says the state of the connection.
// A newer version triggers "design-changed" on <body>, which parts of the page name in hx-trigger.
(function () {
  "use strict";
  var POLL_MS = 10000;
  var AGAIN_MS = 30000;
  var SAID = {
    live: "Live: others' changes appear here.",
    asking: "Asking every 10 seconds for others' changes.",
    lost: "No connection. Others' changes do not appear until it is back.",
    waiting: "Someone changed this build. It shows here when you keep your open row or put it back.",
  };
  var heard = 0;
  var asking = null;
  var held = false;
  var connection = "";

  function say(state) {
    if (state !== "waiting") connection = state;
    document.querySelectorAll("[data-live-words]").forEach(function (words) {
      words.dataset.liveState = state;
      if (words.textContent !== SAID[state]) words.textContent = SAID[state];
    });
  }

  function shown() {
    var version = heard;
    document.querySelectorAll("[data-design-version]").forEach(function (part) {
      version = Math.max(version, Number(part.dataset.designVersion) || 0);
    });
    return version;
  }

  function tell() {
    if (window.htmx) window.htmx.trigger(document.body, "design-changed", { design_version: heard });
    else document.body.dispatchEvent(new CustomEvent("design-changed", { bubbles: true }));
  }

  function hear(text) {
    var news;
    try { news = JSON.parse(text); } catch (fault) { return; }
    var version = Number(news.design_version) || 0;
    if (version <= shown()) return;
    // this page's own edit is told here too, often before its answer has been shown
    if (document.querySelector(".htmx-request")) { setTimeout(function () { hear(text); }, 400); return; }
    heard = version;
    tell();
  }

  // somebody has a row open, or has left it
  function hearRow(text) {
    var news;
    try { news = JSON.parse(text); } catch (fault) { return; }
    document.body.dispatchEvent(new CustomEvent("row-open", { bubbles: true, detail: news }));
  }

  function listen(place) {
    if (!place.dataset.eventsUrl || !window.EventSource) { poll(place); return; }
    var stream = new EventSource(place.dataset.eventsUrl);
    stream.onopen = function () { clearInterval(asking); asking = null; say("live"); };
    stream.onmessage = function (event) { hear(event.data); };
    stream.addEventListener("design", function (event) { hear(event.data); });
    stream.addEventListener("row", function (event) { hearRow(event.data); });
    stream.onerror = function () {
      poll(place);
      // a stream that was refused stays closed: ask for it again later
      if (stream.readyState === EventSource.CLOSED) setTimeout(function () { listen(place); }, AGAIN_MS);
    };
  }

  function poll(place) {
    if (asking) return;
    if (!place.dataset.versionUrl) { say("lost"); return; }
    asking = setInterval(function () { ask(place); }, POLL_MS);
    ask(place);
  }

  function ask(place) {
    if (document.hidden) return;
    fetch(place.dataset.versionUrl, { headers: { Accept: "application/json" }, credentials: "same-origin" })
      .then(function (answer) {
        if (!answer.ok) throw new Error(String(answer.status));
        return answer.text();
      })
      .then(function (text) { if (asking) say("asking"); hear(text); })
      .catch(function () { if (asking) say("lost"); });
  }

  // A row that is open for editing is not swept away by somebody else's change: the change waits.
  document.addEventListener("htmx:beforeRequest", function (event) {
    var config = event.detail.requestConfig || {};
    var cause = config.triggeringEvent;
    var target = event.detail.target;
    if (!cause || cause.type !== "design-changed" || !target || !target.querySelector("[data-edit]")) return;
    event.preventDefault();
    held = true;
    say("waiting");
  });
  document.addEventListener("htmx:afterSettle", function () {
    if (!held || document.querySelector("[data-edit]")) return;
    held = false;
    say(connection || "live");
    tell();
  });

  // The state of the network on floor pages: <p data-net data-net-good="…" data-net-lost="…">.
  function showNet() {
    document.querySelectorAll("[data-net]").forEach(function (net) {
      var words = net.querySelector("[data-net-words]");
      net.dataset.netState = navigator.onLine ? "good" : "lost";
      if (words) words.textContent = navigator.onLine ? net.dataset.netGood : net.dataset.netLost;
    });
  }
  window.addEventListener("online", showNet);
  window.addEventListener("offline", showNet);

  document.addEventListener("DOMContentLoaded", function () {
    showNet();
    var place = document.querySelector("[data-events-url], [data-version-url]");
    if (place) listen(place);
  });
})();
