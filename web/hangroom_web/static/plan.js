// Looks again by itself while a plan is being worked out, but never over what is being typed.
"use strict";
(() => {
  const EVERY_MS = 5000;
  let typed = false;
  document.addEventListener("input", () => { typed = true; });
  setInterval(() => { if (!typed && !document.hidden) location.reload(); }, EVERY_MS);
})();
