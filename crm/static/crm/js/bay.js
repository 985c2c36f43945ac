// The bay sheet: steppers that begin at a likely reading, and forms that can be put away. Works without.
(() => {
  // An empty stepper begins where readings usually are; a comma is understood before the arithmetic.
  document.addEventListener("click", (event) => {
    const at = event.target instanceof Element ? event.target : null;
    const button = at?.closest(".stepper [data-step]");
    const input = button?.parentElement.querySelector("input");
    if (!input) return;
    input.value = input.value.trim().replace(",", ".");
    if (input.value === "" && input.dataset.start) {
      input.value = input.dataset.start;
      event.stopImmediatePropagation();
      for (const kind of ["input", "change"]) input.dispatchEvent(new Event(kind, { bubbles: true }));
    }
  }, true);

  // What the picker changed is told to its form, so that the rules speak to the new surfaces.
  document.addEventListener("picker-changed", (event) => {
    event.target.closest("form")?.dispatchEvent(new CustomEvent("picked"));
  }, true);

  // The batch of the last bottle is filled in once for a product, and never over something that was typed.
  document.addEventListener("htmx:afterSwap", (event) => {
    const last = event.target.querySelector?.("[data-last-batch]");
    const batch = last?.closest("form")?.querySelector("[data-batch]");
    if (!batch || batch.dataset.offeredFor === last.dataset.for) return;
    const input = batch.querySelector("input");
    const untouched = input.value === "" || input.value === batch.dataset.offered;
    if (untouched && document.activeElement !== input) {
      input.value = last.dataset.lastBatch;
      batch.dataset.offered = input.value;
      batch.querySelector("[data-from-last-bottle]").hidden = input.value === "";
    }
    batch.dataset.offeredFor = last.dataset.for;
  });
  document.addEventListener("input", (event) => {
    const help = event.target.closest?.("[data-batch]")?.querySelector("[data-from-last-bottle]");
    if (help) help.hidden = true;
  });

  // The keyboard goes on where an entry was opened, or in the section that was written to.
  let section = "";
  document.addEventListener("htmx:beforeSwap", (event) => {
    section = event.detail.requestConfig?.elt?.closest("section")?.id || section;
  });
  document.addEventListener("htmx:afterSettle", (event) => {
    const into = event.detail.target;
    // What was refused is brought into view; it may stand a screen below where the entry begins.
    const wrong = into?.querySelector(".errorlist, .form-wrong");
    if (wrong) requestAnimationFrame(() => (wrong.closest(".field") ?? wrong).scrollIntoView({ block: "center" }));
    // Spot after spot: the keypad goes on with the first reading of the next.
    const reading = into?.id === "bay-sheet" && document.querySelector("#entry-gauge [name=um_1]");
    if (reading) {
      reading.closest("form").scrollIntoView({ block: "start" });
      reading.focus({ preventScroll: true });
      return;
    }
    const heading = into?.matches(".bay-entry") ? into.querySelector("h3")
      : into?.id === "bay-sheet" ? document.getElementById(section)?.querySelector("h2") : null;
    if (!heading) return;
    heading.tabIndex = -1;
    heading.focus({ preventScroll: true });
  });

  // "Leave it" closes an entry that was opened inside the sheet.
  document.addEventListener("click", (event) => {
    const away = event.target instanceof Element ? event.target.closest("[data-puts-away]") : null;
    const entry = away?.closest(".bay-entry");
    if (!entry) return;
    event.preventDefault();
    entry.replaceChildren();
    entry.closest("section")?.scrollIntoView({ block: "start" });
  });
})();
