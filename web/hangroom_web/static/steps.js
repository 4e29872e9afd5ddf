// Lets the times of steps under way run on. Without it they stand as of when the page was made.
"use strict";
(() => {
  const made = [performance.now(), Date.now()];
  // A sleeping phone may stop one of its two clocks: the larger time passed is the true one.
  const passed = () => Math.max(performance.now() - made[0], Date.now() - made[1]) / 1000;

  function duration(seconds) {
    const s = Math.max(0, Math.round(seconds));
    if (s < 90) return s + " s";
    const min = Math.round(s / 60);
    if (min < 60) return min + " min";
    const h = Math.floor(min / 60), rest = min % 60;
    return rest && h < 10 ? h + " h " + rest + " min" : h + " h";
  }

  function run() {
    for (const item of document.querySelectorAll("[data-since-s]"))
      item.textContent = duration(Number(item.dataset.sinceS) + passed());
    for (const item of document.querySelectorAll("[data-low-h]"))
      item.textContent = (Number(item.dataset.lowH) + passed() / 3600).toFixed(1);
  }

  setInterval(run, 1000);
  document.addEventListener("visibilitychange", run);
})();
