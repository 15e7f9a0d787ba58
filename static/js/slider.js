// Says beside a slider what it is set to; without this the number is in the answer only.
function say(slider) {
  const place = slider.parentElement.querySelector("output");
  if (!place) return;
  const value = Number(slider.value);
  const sign = value > 0 ? "+" : value < 0 ? "−" : "±";
  const { unit } = slider.dataset;
  place.textContent = `${sign}${Math.abs(value)}${unit === "%" ? "" : " "}${unit}`;
}

document.addEventListener("input", (event) => {
  if (event.target.matches(".slider")) say(event.target);
});

// A number that is typed gets a slider as well; both say the same, only the number is sent.
for (const number of document.querySelectorAll("[data-slide-to]")) {
  const slider = document.createElement("input");
  slider.type = "range";
  slider.className = "slider-beside slider";
  slider.min = "1";
  slider.max = String(Math.max(Number(number.dataset.slideTo), Number(number.value) || 0));
  slider.value = number.value;
  slider.setAttribute("aria-label", `${number.labels[0]?.textContent.trim() ?? ""}: slide`);
  slider.addEventListener("input", (event) => {
    event.stopPropagation();
    number.value = slider.value;
    number.dispatchEvent(new Event("input", { bubbles: true }));
  });
  number.addEventListener("input", () => {
    slider.value = number.value;
  });
  number.closest(".field").append(slider);
}

for (const slider of document.querySelectorAll(".slider:not(.slider-beside)")) {
  const place = document.createElement("output");
  place.className = "slider-value";
  place.htmlFor = slider.id;
  slider.insertAdjacentElement("afterend", place);
  say(slider);
}
