// The plan on the bay board, moved by dragging or by keys. A stay that may be moved is
//   <a class="stay at-9 for-8" data-booking data-version data-column data-span data-number data-shift="address">
// data-stands says that the vehicle stands there: then only the planned end moves.
// Arrow keys move by half a day (two quarters) or to the next bay, Shift with an arrow changes the end, Enter keeps,
// Escape puts back. A drag does the same by whole half days and asks nothing: what is dropped is kept, or comes back with
// the reason. The server works out the times; here only quarters of the board move.
(function () {
  "use strict";
  var HALF = 2;
  var moving = null; // {stay, half, stretch, row} while something is not kept yet
  var drag = null;

  function board() { return document.querySelector("[data-board]"); }
  function lanes() { return Array.prototype.slice.call(board().querySelectorAll("[data-place]")); }

  function setClass(stay, prefix, value) {
    Array.prototype.slice.call(stay.classList).forEach(function (name) {
      if (name.indexOf(prefix) === 0) stay.classList.remove(name);
    });
    stay.classList.add(prefix + value);
  }

  function begin(stay) {
    if (moving && moving.stay === stay) return moving;
    if (moving) putBack();
    var here = lanes();
    moving = { stay: stay, half: 0, stretch: 0, lane: here.indexOf(stay.closest("[data-place]")), home: here.indexOf(stay.closest("[data-place]")), next: stay.nextSibling };
    stay.classList.add("moving");
    return moving;
  }

  function columns() { return Number(board().dataset.columns) * 4; }

  // Where the stay stands with the move so far, kept inside the week.
  function placed(move) {
    var column = Number(move.stay.dataset.column) + move.half * HALF;
    var span = Number(move.stay.dataset.span) + move.stretch * HALF;
    return { column: column, span: span, fits: column >= 1 && span >= 1 && column <= columns() };
  }

  function draw() {
    var at = placed(moving);
    var shown = Math.max(1, Math.min(at.column, columns()));
    setClass(moving.stay, "at-", shown);
    setClass(moving.stay, "for-", Math.max(1, Math.min(at.span, columns() + 1 - shown)));
    var lane = lanes()[moving.lane];
    if (moving.stay.parentElement !== lane) {
      lane.appendChild(moving.stay);
      if (!drag) moving.stay.focus();
    }
    tell(words(at));
  }

  function edge(quarter, isEnd) {
    var days = Array.prototype.slice.call(board().querySelectorAll("[data-day]"));
    var index = isEnd ? Math.ceil(quarter / 4) - 1 : Math.floor(quarter / 4);
    var day = days[Math.max(0, Math.min(index, days.length - 1))];
    var part = quarter - index * 4;
    var name = isEnd ? (part <= HALF ? "noon" : "evening") : (part < HALF ? "morning" : "noon");
    return day.dataset.day + " " + name + (index >= days.length ? " or later" : "");
  }

  function words(at) {
    var place = lanes()[moving.lane].dataset.placeName;
    return moving.stay.dataset.number + ": " + place + ", " + edge(at.column - 1, false) + " to " + edge(at.column - 1 + at.span, true) + ". Not kept yet.";
  }

  function tell(text) {
    var place = document.querySelector("[data-board-says]");
    if (!place) return;
    place.hidden = !text;
    place.querySelector("[data-board-words]").textContent = text;
  }

  function putBack() {
    if (!moving) return;
    var stay = moving.stay;
    lanes()[moving.home].insertBefore(stay, moving.next && moving.next.parentNode ? moving.next : null);
    setClass(stay, "at-", stay.dataset.column);
    setClass(stay, "for-", stay.dataset.span);
    stay.classList.remove("moving");
    moving = null;
    tell("");
    stay.focus();
  }

  function refused(sentence) {
    var place = document.getElementById("messages");
    var line = document.createElement("p");
    line.className = "message message-error";
    line.setAttribute("role", "alert");
    line.textContent = sentence;
    place.replaceChildren(line);
  }

  function swap(page, selector) {
    var fresh = page.querySelector(selector);
    var here = document.querySelector(selector);
    if (fresh && here) here.replaceWith(fresh);
  }

  function keep() {
    if (!moving) return;
    var stay = moving.stay;
    if (!moving.half && !moving.stretch && moving.lane === moving.home) return putBack();
    var id = stay.dataset.booking;
    var body = new URLSearchParams({
      half_days: String(moving.half), stretch: String(moving.stretch), place: lanes()[moving.lane].dataset.place,
      row_version: stay.dataset.version, week: board().dataset.week,
    });
    var token = document.querySelector('meta[name="csrf-token"]');
    tell(stay.dataset.number + ": asking …");
    fetch(stay.dataset.shift, { method: "POST", body: body, credentials: "same-origin", headers: { "X-CSRFToken": token ? token.content : "" } })
      .then(function (response) {
        return response.text().then(function (html) {
          var page = new DOMParser().parseFromString(html, "text/html");
          if (!page.querySelector("[data-board]")) throw new Error(String(response.status));
          moving = null;
          ["#board-grid", "#board-side", "#board-head", "#messages"].forEach(function (selector) { swap(page, selector); });
          showPrint();
          tell("");
          var again = document.querySelector('[data-booking="' + id + '"]');
          if (again) again.focus();
          var said = document.querySelector("#messages .message");
          var voice = document.getElementById("said");
          if (said && voice) voice.textContent = said.textContent;
        });
      })
      .catch(function () {
        putBack();
        refused("The shop's computer did not answer. The stay is where it was; move it again.");
      });
  }

  function move(stay, half, lane, stretch) {
    begin(stay);
    if (stay.hasAttribute("data-stands") && (half || lane)) {
      tell(stay.dataset.number + " stands here: only its planned end moves, with Shift and an arrow.");
      return;
    }
    var before = { half: moving.half, stretch: moving.stretch, lane: moving.lane };
    moving.half += half;
    moving.stretch += stretch;
    moving.lane = Math.max(0, Math.min(lanes().length - 1, moving.lane + lane));
    if (!placed(moving).fits) {
      moving.half = before.half;
      moving.stretch = before.stretch;
      tell(stay.dataset.number + ": the week ends here. Open the stay for a plain form.");
      return;
    }
    draw();
  }

  document.addEventListener("keydown", function (event) {
    var stay = event.target.closest && event.target.closest("[data-booking]");
    if (!stay || event.ctrlKey || event.altKey || event.metaKey) return;
    var shift = event.shiftKey;
    switch (event.key) {
      case "ArrowLeft": move(stay, shift ? 0 : -1, 0, shift ? -1 : 0); break;
      case "ArrowRight": move(stay, shift ? 0 : 1, 0, shift ? 1 : 0); break;
      case "ArrowUp": if (shift) return; move(stay, 0, -1, 0); break;
      case "ArrowDown": if (shift) return; move(stay, 0, 1, 0); break;
      case "Enter": if (!moving) return; keep(); break;
      case "Escape": if (!moving) return; putBack(); break;
      default: return;
    }
    event.preventDefault();
  });

  document.addEventListener("pointerdown", function (event) {
    var stay = event.target.closest && event.target.closest("[data-booking]");
    if (!stay || event.button !== 0 || event.pointerType === "touch") return;
    var box = stay.getBoundingClientRect();
    drag = { stay: stay, x: event.clientX, y: event.clientY, id: event.pointerId, started: false, end: event.clientX > box.right - 14 || stay.hasAttribute("data-stands") };
    event.preventDefault();
  });

  document.addEventListener("pointermove", function (event) {
    if (!drag || event.pointerId !== drag.id) return;
    var dx = event.clientX - drag.x;
    if (!drag.started && Math.abs(dx) < 5 && Math.abs(event.clientY - drag.y) < 5) return;
    if (!drag.started) {
      drag.started = true;
      begin(drag.stay);
      try { drag.stay.setPointerCapture(drag.id); } catch (gone) { /* the pointer left the window */ }
    }
    var half = Math.round(dx / (board().querySelector("[data-place]").clientWidth / (Number(board().dataset.columns) * 2)));
    var before = { half: moving.half, stretch: moving.stretch };
    if (drag.end) moving.stretch = half; else moving.half = half;
    if (!placed(moving).fits) { moving.half = before.half; moving.stretch = before.stretch; }
    if (!drag.end) {
      lanes().forEach(function (lane, index) {
        var box = lane.getBoundingClientRect();
        if (event.clientY >= box.top && event.clientY < box.bottom) moving.lane = index;
      });
    }
    draw();
  });

  document.addEventListener("pointerup", function (event) {
    if (!drag || event.pointerId !== drag.id) return;
    var done = drag;
    drag = null;
    if (!done.started) { done.stay.focus(); return; }
    done.stay.dataset.dragged = "yes"; // the click that follows a drop opens nothing
    setTimeout(function () { delete done.stay.dataset.dragged; }, 50);
    keep();
  });

  document.addEventListener("pointercancel", function () {
    if (drag && drag.started) putBack();
    drag = null;
  });

  document.addEventListener("click", function (event) {
    var stay = event.target.closest && event.target.closest("[data-booking]");
    if (stay && (stay.dataset.dragged || (moving && moving.stay === stay))) event.preventDefault();
    if (event.target.closest && event.target.closest("[data-board-keep]")) keep();
    if (event.target.closest && event.target.closest("[data-board-back]")) putBack();
    if (event.target.closest && event.target.closest("[data-print]")) window.print();
  });
  document.addEventListener("dragstart", function (event) {
    if (event.target.closest && event.target.closest("[data-booking]")) event.preventDefault();
  });

  // On the wall nobody presses anything: the board asks for itself once a minute, and says so when nobody answers.
  function watchWall() {
    if (!document.querySelector("[data-wall]")) return;
    setInterval(function () {
      fetch(location.href, { credentials: "same-origin" })
        .then(function (response) { return response.text(); })
        .then(function (html) {
          var page = new DOMParser().parseFromString(html, "text/html");
          if (!page.querySelector("[data-wall]")) throw new Error("not the board");
          ["#wall-title", "#board-grid"].forEach(function (selector) { swap(page, selector); });
        })
        .catch(function () { document.querySelector("[data-wall-lost]").textContent = "No connection: this is as it was at the time beside."; });
    }, Number(document.querySelector("[data-wall]").dataset.wall || 60) * 1000);
  }

  function showPrint() {
    document.querySelectorAll("[data-print]").forEach(function (button) { button.hidden = false; });
  }
  document.addEventListener("DOMContentLoaded", function () { showPrint(); watchWall(); });
})();
