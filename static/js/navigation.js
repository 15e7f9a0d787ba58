// A group of the navigation closes when one taps elsewhere, leaves it with the keyboard, or presses Escape.
const navigation = document.querySelector(".navigation");

function close(group, takesFocusBack) {
  group.open = false;
  if (takesFocusBack) group.querySelector("summary").focus();
}

function openGroups() {
  return navigation ? navigation.querySelectorAll("details[open]") : [];
}

document.addEventListener("keydown", (event) => {
  if (event.key !== "Escape") return;
  for (const group of openGroups()) close(group, group.contains(document.activeElement));
});

document.addEventListener("click", (event) => {
  for (const group of openGroups()) if (!group.contains(event.target)) close(group, false);
});

navigation?.addEventListener("focusout", (event) => {
  for (const group of openGroups()) {
    if (event.relatedTarget && !group.contains(event.relatedTarget)) close(group, false);
  }
});
