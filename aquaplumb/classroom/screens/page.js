// A page's line to the room: it says when the teacher's machine is out of reach, and loads the page anew where its kernel has ended.
(() => {
  "use strict";
  const CUT_OFF = "The teacher's machine is out of reach. What you kept is safe there; this page goes on when it is back.";
  const AGAIN = "This page starts again, with your build as you kept it last.";
  const data = () => document.getElementById("jupyter-config-data");
  const SLOW = 90000; // ms in which another page that was asked for comes, else it will not
  let line, wasOpen = false, leaving = false, asked = 0, tries = 0;
  const sign = () => {
    let box = document.getElementById("ap-link");
    if (!box) {
      box = document.createElement("div");
      box.id = "ap-link";
      box.setAttribute("role", "status");
      document.body.append(box);
    }
    return box;
  };
  const say = (text) => { sign().textContent = text; };
  const again = () => {
    if (leaving) return;
    // The next page ends the kernel of this one before it shows: to load this one anew would call that one off.
    if (Date.now() < asked + SLOW) { setTimeout(again, 1000); return; }
    leaving = true;
    say(AGAIN);
    setTimeout(() => location.reload(), 300 + Math.random() * 700);
  };
  const join = () => {
    const place = data();
    if (!place) return setTimeout(join, 200);
    const kernel = JSON.parse(place.textContent).kernelId;
    line = new WebSocket(`${location.protocol === "https:" ? "wss" : "ws"}://${location.host}/room/link/${kernel}`);
    line.onopen = () => {
      if (wasOpen) setTimeout(() => { if (line.readyState === 1) line.send("well?"); }, 5000);
      wasOpen = true;
      tries = 0;
      say("");
    };
    line.onmessage = (event) => { if (event.data === "gone") again(); };
    line.onclose = () => {
      if (leaving) return;
      tries += 1;
      if (tries > 1) say(CUT_OFF);
      setTimeout(join, Math.min(1000 * tries, 4000));
    };
  };
  addEventListener("beforeunload", () => { asked = Date.now(); });
  addEventListener("pagehide", () => { leaving = true; });
  addEventListener("pageshow", (event) => { if (event.persisted) location.reload(); });
  addEventListener("DOMContentLoaded", () => {
    const way = document.createElement("a");
    way.id = "ap-way";
    way.href = "/";
    way.textContent = "← all pages, and your files";
    document.body.prepend(way);
  });
  join();
})();
