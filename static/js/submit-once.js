// Swallows the second click on a button while the form is on its way.
// A form that may be sent again while it stays on the page (a download) says data-submit-often.
"use strict";

document.addEventListener("submit", (event) => {
  const form = event.target;
  if (event.defaultPrevented || form.method !== "post" || "submitOften" in form.dataset) return;
  if ("sending" in form.dataset) {
    event.preventDefault();
    return;
  }
  form.dataset.sending = "";
  // Not `disabled`: a disabled button would lose the focus and drop out of what is sent.
  event.submitter?.setAttribute("aria-disabled", "true");
});

// The page comes back from the browser's memory as it was left, still "sending".
window.addEventListener("pageshow", () => {
  for (const form of document.querySelectorAll("form[data-sending]")) delete form.dataset.sending;
  for (const button of document.querySelectorAll("button[aria-disabled]"))
    button.removeAttribute("aria-disabled");
});
