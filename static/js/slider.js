// Says beside a slider where it stands; without this the number is in the answer only.
function say(slider) {
  const place = slider.parentElement.querySelector("output");
  if (!place) return;
  const value = Number(slider.value);
  const sign = value > 0 ? "+" : value < 0 ? "−" : "±";
  place.textContent = `${sign}${Math.abs(value)} ${slider.dataset.unit}`;
}

document.addEventListener("input", (event) => {
  if (event.target.matches(".slider")) say(event.target);
});

for (const slider of document.querySelectorAll(".slider")) {
  const place = document.createElement("output");
  place.className = "slider-value";
  place.htmlFor = slider.id;
  slider.insertAdjacentElement("afterend", place);
  say(slider);
}
