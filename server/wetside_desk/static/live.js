// Keeps the board fresh: the desk sends every text ready made, this only puts them in place.
"use strict";

(() => {
  const board = document.getElementById("board");
  const canvas = document.getElementById("display");
  const connection = document.getElementById("connection");
  const places = board.querySelectorAll("[data-word]");

  // 64 rows of 16 bytes, leftmost pixel in the most significant bit
  function draw(base64) {
    const pen = canvas.getContext("2d");
    const style = getComputedStyle(canvas);
    pen.fillStyle = style.backgroundColor;
    pen.fillRect(0, 0, 128, 64);
    if (!base64) return;
    const bytes = atob(base64);
    pen.fillStyle = style.color;
    for (let at = 0; at < bytes.length && at < 1024; at += 1) {
      const byte = bytes.charCodeAt(at);
      for (let bit = 0; byte && bit < 8; bit += 1) {
        if (byte & (128 >> bit)) pen.fillRect((at % 16) * 8 + bit, at >> 4, 1, 1);
      }
    }
  }

  function show(words) {
    for (const place of places) {
      const text = words[place.dataset.word] || "";
      if (place.textContent !== text) place.textContent = text;
    }
    board.dataset.tone = words.tone;
    if (canvas.dataset.picture !== words.picture) {
      canvas.dataset.picture = words.picture;
      draw(words.picture);
    }
  }

  draw(canvas.dataset.picture);
  document.addEventListener("look", () => draw(canvas.dataset.picture));
  let stream;
  let waiting = 0;
  let silence = 0;

  function listen() {
    stream = new EventSource("/live/words");
    stream.addEventListener("words", (event) => {
      heard();
      show(JSON.parse(event.data));
    });
    stream.addEventListener("still", heard);
    stream.addEventListener("error", () => {
      connection.hidden = false;
      // refused for good, as where too many watch: look at the page itself, then ask again
      if (stream.readyState === EventSource.CLOSED) look(10000);
    });
    expect();
  }

  // the desk says something every five seconds, if only that all still holds
  function expect() {
    clearTimeout(silence);
    silence = setTimeout(() => {
      connection.hidden = false;
      stream.close();
      look(0);
    }, 13000);
  }

  function heard() {
    connection.hidden = true;
    expect();
  }

  // pause: how long to wait before listening again to a desk that answers
  async function look(pause) {
    clearTimeout(silence);
    try {
      const answer = await fetch("/live", { signal: AbortSignal.timeout(8000) });
      const page = new DOMParser().parseFromString(await answer.text(), "text/html");
      const fresh = page.getElementById("board");
      const words = { tone: fresh.dataset.tone, picture: page.getElementById("display").dataset.picture };
      for (const place of fresh.querySelectorAll("[data-word]")) words[place.dataset.word] = place.textContent;
      show(words);
      connection.hidden = true;
    } catch {
      // the desk is away, or the board is the teacher's now: what stands here is called old
      pause = 10000;
    }
    waiting = setTimeout(listen, pause);
  }

  listen();
  // a page that is left must not hold one of the few connections a browser has
  window.addEventListener("pagehide", () => {
    clearTimeout(waiting);
    clearTimeout(silence);
    stream.close();
  });
  window.addEventListener("pageshow", (event) => { if (event.persisted) location.reload(); });
})();
