// Minutes that are left, counted down while the page is open.
"use strict";

(() => {
  const began = Date.now();
  const places = [...document.querySelectorAll("[data-left]")];

  function show() {
    const gone = (Date.now() - began) / 1000;
    for (const place of places) {
      const left = Number(place.dataset.left) - gone;
      if (left >= 7200) continue;
      const text = left < 0 ? "too late" : `${Math.floor(left / 60)} min`;
      if (place.textContent !== text) place.textContent = text;
      place.classList.toggle("late", left < 0);
    }
  }

  if (places.length) setInterval(show, 1000);
})();
