// A file as text: line numbers, and problems beside the lines while somebody writes.
"use strict";

(() => {
  const form = document.getElementById("editor");
  const area = form.querySelector("textarea");
  const gutter = form.querySelector(".gutter");
  const list = document.getElementById("problems");
  const doubts = document.getElementById("doubts");
  const count = document.getElementById("problems-count");
  let wrong = new Set([...list.querySelectorAll("[data-line]")].map((one) => Number(one.dataset.line)));
  let waiting = 0;
  let asked = 0;

  function number() {
    const total = area.value.split("\n").length;
    gutter.replaceChildren();
    for (let line = 1; line <= total; line += 1) {
      const mark = document.createElement("span");
      mark.textContent = `${line}\n`;
      if (wrong.has(line)) mark.className = "off";
      gutter.append(mark);
    }
    gutter.scrollTop = area.scrollTop;
  }

  function jump(line) {
    const before = area.value.split("\n").slice(0, line - 1).join("\n").length + (line > 1 ? 1 : 0);
    const end = area.value.indexOf("\n", before);
    area.focus();
    area.setSelectionRange(before, end < 0 ? area.value.length : end);
    area.scrollTop = Math.max(0, (line - 6) * parseFloat(getComputedStyle(area).lineHeight));
  }

  function doubt(sentences) {
    doubts.hidden = sentences.length === 0;
    doubts.querySelector("ul").replaceChildren(...sentences.map((one) => {
      const item = document.createElement("li");
      item.textContent = one;
      return item;
    }));
  }

  function show(problems) {
    const lines = area.value.split("\n");
    wrong = new Set(problems.map((one) => one.line).filter(Boolean));
    const said = problems.length === 1 ? "1 problem" : `${problems.length} problems`;
    const text = problems.length ? said : "No problem";
    if (count.textContent !== text) count.textContent = text;
    list.replaceChildren(...problems.map((one) => {
      const item = document.createElement("li");
      const button = document.createElement("button");
      button.type = "button";
      button.className = "mark";
      button.dataset.line = one.line || "";
      button.textContent = one.line ? `line ${one.line}` : "whole file";
      item.append(button, " ");
      if (one.line && lines[one.line - 1]) {
        const code = document.createElement("code");
        code.className = "mark-line";
        code.textContent = lines[one.line - 1].trim();
        item.append(code, " ");
      }
      const why = document.createElement("span");
      if (one.place) {
        const place = document.createElement("strong");
        place.textContent = one.place;
        why.append(place, ": ");
      }
      why.append(one.reason);
      item.append(why);
      return item;
    }));
    number();
  }

  async function look() {
    asked += 1;
    const mine = asked;
    try {
      const answer = await fetch(form.dataset.check, {
        method: "POST",
        headers: { "Content-Type": "application/toml" },
        body: area.value,
      });
      if (mine !== asked) return;
      if (answer.ok) {
        const found = await answer.json();
        show(found.problems);
        doubt(found.doubts);
      } else count.textContent = answer.status === 401
        ? "Not checked: the sign-in has ended. “Keep” asks for it and takes the text along."
        : "Not checked";
    } catch {
      // the desk is away for a moment; the next key asks again, and keeping checks anyway
    }
  }

  gutter.hidden = false;
  list.addEventListener("click", (event) => {
    const line = Number(event.target.closest("button")?.dataset.line);
    if (line) jump(line);
  });
  area.addEventListener("scroll", () => { gutter.scrollTop = area.scrollTop; });
  area.addEventListener("input", () => {
    number();
    clearTimeout(waiting);
    waiting = setTimeout(look, 500);
  });
  number();
})();
