/* Buttons that copy the text of the element they name. */
"use strict";

for (const button of document.querySelectorAll("button[data-copy]")) {
  const label = button.textContent;
  button.addEventListener("click", async () => {
    const source = document.getElementById(button.dataset.copy);
    let done = false;
    try {
      await navigator.clipboard.writeText(source.textContent);
      done = true;
    } catch {
      const range = document.createRange();
      range.selectNodeContents(source);
      getSelection().removeAllRanges();
      getSelection().addRange(range);
      done = document.execCommand("copy");
    }
    button.textContent = done ? "Copied" : "Selected: press Ctrl+C";
    setTimeout(() => (button.textContent = label), 2000);
  });
}
