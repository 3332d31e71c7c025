// Changes the look without leaving the page, so that nothing that was typed is lost.
"use strict";

(() => {
  const form = document.querySelector("form.theme");

  form.addEventListener("submit", async (event) => {
    const button = event.submitter;
    if (!button) return;
    event.preventDefault();
    const fields = new URLSearchParams(new FormData(form, button));
    try {
      const answer = await fetch(form.action, { method: "POST", body: fields, redirect: "manual" });
      if (answer.type !== "opaqueredirect") return;
    } catch {
      return;  // the desk is away: the look stays, and the page with it
    }
    document.documentElement.dataset.theme = button.value;
    for (const one of form.querySelectorAll("button")) one.setAttribute("aria-pressed", String(one === button));
    document.dispatchEvent(new Event("look"));
  });
})();
