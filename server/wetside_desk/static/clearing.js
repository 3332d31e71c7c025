// Times how long film takes to clear, and says what that means against the fresh bath.
"use strict";

(() => {
  const timer = document.getElementById("timer");
  const shown = document.getElementById("timer-shown");
  const says = document.getElementById("timer-says");
  const go = document.getElementById("timer-go");
  const field = document.getElementById("clearing");
  const fresh = Number(timer.dataset.fresh) || 0;
  const most = Number(timer.dataset.discard);
  let began = null;
  let ticking = 0;

  const text = (seconds) => `${Math.floor(seconds / 60)}:${String(Math.floor(seconds % 60)).padStart(2, "0")}`;
  const say = (words) => { if (says.textContent !== words) says.textContent = words; };

  function judge(seconds, running) {
    if (!fresh) return "";
    if (seconds >= most * fresh) return "Twice as long as fresh or more: collect it and mix new.";
    return running ? "" : `${(seconds / fresh).toFixed(2)} times the fresh time.`;
  }

  function tick() {
    const seconds = (performance.now() - began) / 1000;
    shown.textContent = text(seconds);
    const over = fresh && seconds >= most * fresh;
    timer.dataset.state = over ? "over" : "running";
    say(judge(seconds, true));
  }

  go.addEventListener("click", () => {
    if (began === null) {
      began = performance.now();
      shown.textContent = "0:00";
      field.value = "";
      go.textContent = "Clear now: stop";
      ticking = setInterval(tick, 100);
      say("");
      return;
    }
    clearInterval(ticking);
    const seconds = Math.max(0.1, (performance.now() - began) / 1000);
    began = null;
    shown.textContent = text(seconds);
    field.value = seconds.toFixed(1);
    go.textContent = "Start again";
    say(judge(seconds, false) || "Write it down below.");
  });

  shown.hidden = false;
  go.hidden = false;
})();
