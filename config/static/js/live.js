// Other people's edits arrive here. An element carries
//   data-events-url      address of the event stream
//   data-version-url     address that answers {"design_version": n}, asked every 10 s when the stream fails
//   data-design-version  the version that this page shows
// and may hold a [data-live-words] in which the state of the connection is said.
// A newer version triggers "design-changed" on <body>, which parts of the page name in hx-trigger.
(function () {
  "use strict";
  var POLL_MS = 10000;

  function Live(element) {
    this.element = element;
    this.words = element.querySelector("[data-live-words]");
    this.version = Number(element.dataset.designVersion || 0);
    this.timer = null;
    this.open();
  }

  Live.prototype.say = function (state, words) {
    this.element.dataset.liveState = state;
    if (this.words && this.words.textContent !== words) this.words.textContent = words;
  };

  Live.prototype.hear = function (text) {
    var news;
    try { news = JSON.parse(text); } catch (fault) { return; }
    var version = Number(news.design_version || 0);
    // this page's own edit has already raised the version it shows
    this.version = Math.max(this.version, Number(this.element.dataset.designVersion || 0));
    if (version <= this.version) return;
    this.version = version;
    this.element.dataset.designVersion = String(version);
    if (window.htmx) window.htmx.trigger(document.body, "design-changed", news);
    else document.body.dispatchEvent(new CustomEvent("design-changed", { detail: news, bubbles: true }));
  };

  Live.prototype.open = function () {
    var live = this;
    if (!live.element.dataset.eventsUrl || !window.EventSource) return live.poll();
    var stream = new EventSource(live.element.dataset.eventsUrl);
    live.stream = stream;
    stream.onopen = function () {
      live.stopPolling();
      live.say("live", "Live: others' changes appear here.");
    };
    stream.onmessage = function (event) { live.hear(event.data); };
    stream.addEventListener("design", function (event) { live.hear(event.data); });
    stream.onerror = function () {
      live.poll();
      // a refused stream stays closed; try it again later
      if (stream.readyState === EventSource.CLOSED) setTimeout(function () { live.open(); }, 3 * POLL_MS);
    };
  };

  Live.prototype.poll = function () {
    var live = this;
    if (live.timer || !live.element.dataset.versionUrl) return;
    live.say("asking", "Asking every 10 seconds for others' changes.");
    live.timer = setInterval(function () { live.ask(); }, POLL_MS);
    live.ask();
  };

  Live.prototype.ask = function () {
    var live = this;
    if (document.hidden) return;
    fetch(live.element.dataset.versionUrl, { headers: { Accept: "application/json" }, credentials: "same-origin" })
      .then(function (answer) {
        if (!answer.ok) throw new Error(String(answer.status));
        return answer.text();
      })
      .then(function (text) {
        live.say("asking", "Asking every 10 seconds for others' changes.");
        live.hear(text);
      })
      .catch(function () { live.say("lost", "No connection. Others' changes do not appear until it is back."); });
  };

  Live.prototype.stopPolling = function () {
    clearInterval(this.timer);
    this.timer = null;
  };

  document.addEventListener("DOMContentLoaded", function () {
    document.querySelectorAll("[data-design-version]").forEach(function (element) {
      if (element.dataset.eventsUrl || element.dataset.versionUrl) new Live(element);
    });
  });

  // The state of the network on floor pages: <p data-net data-net-good="…" data-net-lost="…">.
  function showNet() {
    document.querySelectorAll("[data-net]").forEach(function (net) {
      var words = net.querySelector("[data-net-words]");
      var state = navigator.onLine ? "good" : "lost";
      net.dataset.netState = state;
      if (words) words.textContent = state === "good" ? net.dataset.netGood : net.dataset.netLost;
    });
  }
  window.addEventListener("online", showNet);
  window.addEventListener("offline", showNet);
  document.addEventListener("DOMContentLoaded", showNet);
})();
