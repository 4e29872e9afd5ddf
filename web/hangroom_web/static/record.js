"use strict";
// Without a script the browser's own menu prints; with one there is a button.
const button = document.querySelector("[data-print]");
button.hidden = false;
button.nextElementSibling.hidden = true;
button.addEventListener("click", () => print());
