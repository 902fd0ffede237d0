"use strict";
// Asks now and then where the page stands, and loads it again when there is another: at once where nobody is at work
// in it, and by a button where somebody is.
(() => {
  const SOON = 500, LATER = 3000; // milliseconds
  const bar = document.getElementById("now");
  const line = document.getElementById("now-line");
  const show = document.getElementById("now-show");
  const place = `rationlp ${location.pathname}`;
  const folds = () => [...document.querySelectorAll("details")];

  const inUse = () => document.hasFocus() && document.activeElement.matches("main input, main select, main textarea");

  const again = () => {
    const open = folds().map((fold) => fold.open);
    sessionStorage.setItem(place, JSON.stringify({ open, x: scrollX, y: scrollY }));
    location.reload();
  };

  const back = () => {
    const kept = JSON.parse(sessionStorage.getItem(place) || "null");
    sessionStorage.removeItem(place);
    if (!kept) return;
    const now = folds();
    if (now.length === kept.open.length) now.forEach((fold, i) => { fold.open = kept.open[i]; });
    scrollTo(kept.x, kept.y);
  };

  const tell = (words) => { if (line.textContent !== words) line.textContent = words; };

  const look = async () => {
    let wait = SOON;
    try {
      const answer = await fetch(`/state?view=${bar.dataset.view}`, { cache: "no-store" });
      if (!answer.ok) throw new Error(answer.status);
      const told = await answer.json();
      tell(told.line);
      bar.classList.toggle("now-old", told.old);
      if (told[bar.dataset.follows] !== Number(bar.dataset.serial)) {
        if (!inUse()) return again();
        show.hidden = false;
      }
    } catch {
      tell(bar.dataset.ended);
      wait = LATER;
    }
    setTimeout(look, wait);
  };

  show.addEventListener("click", again);
  back();
  look();
})();
