// Makes a photo smaller on the phone before it is sent. Without it the photo goes as it is.
"use strict";
(() => {
  const WORTH_IT_BYTES = 600000, QUALITY = 0.85, LONGEST_PX = 1600;

  // A blob that may be sent: smaller where that is worth it and the phone can.
  async function smaller(file, longest = LONGEST_PX) {
    if (file.size < WORTH_IT_BYTES) return file;
    try {
      const whole = await createImageBitmap(file, { imageOrientation: "from-image" });
      const scale = Math.min(1, longest / Math.max(whole.width, whole.height));
      const canvas = document.createElement("canvas");
      canvas.width = Math.round(whole.width * scale);
      canvas.height = Math.round(whole.height * scale);
      canvas.getContext("2d").drawImage(whole, 0, 0, canvas.width, canvas.height);
      const blob = await new Promise((done) => canvas.toBlob(done, "image/jpeg", QUALITY));
      return blob && blob.size < file.size ? blob : file;
    } catch {
      return file; // It goes as it is; the controller says whether it can be kept.
    }
  }

  window.hangroom = { ...window.hangroom, smaller };
  const form = document.querySelector("[data-shrink]");
  if (!form) return;
  const input = form.querySelector("[type=file]");
  form.addEventListener("submit", async (event) => {
    const file = input.files[0];
    if (form.dataset.busy) return event.preventDefault();
    if (!file || file.size < WORTH_IT_BYTES) return;
    event.preventDefault();
    form.dataset.busy = "1";
    const chosen = new DataTransfer();
    chosen.items.add(new File([await smaller(file, Number(form.dataset.shrink))], "photo.jpg", { type: "image/jpeg" }));
    input.files = chosen.files;
    form.submit();
  });
})();
