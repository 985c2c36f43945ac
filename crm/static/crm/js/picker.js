// The drawing of a car toggles the ticks of the list beside it. The ticks are what is sent; without script they do alone.
(() => {
  const ticks = (picker) => [...picker.querySelectorAll('input[type="checkbox"]')];
  const chosen = (picker) => new Set(ticks(picker).filter((tick) => tick.checked).map((tick) => tick.value));
  const keys = (text) => (text || "").split(" ").filter(Boolean);
  const twin = (key) =>
    key.startsWith("left_") ? `right_${key.slice(5)}` : key.startsWith("right_") ? `left_${key.slice(6)}` : key;

  const show = (picker) => {
    const now = chosen(picker);
    for (const part of picker.querySelectorAll("[data-surface]")) part.toggleAttribute("data-chosen", now.has(part.dataset.surface));
    for (const button of picker.querySelectorAll("[data-set]")) {
      const members = keys(button.dataset.set);
      const count = members.filter((key) => now.has(key)).length;
      button.setAttribute("aria-pressed", count === 0 ? "false" : count === members.length ? "true" : "mixed");
    }
  };

  const changed = (picker) => {
    show(picker);
    const words = picker.querySelector("[data-words]");
    if (!window.htmx) words.textContent = `${chosen(picker).size} chosen`;
    words.dispatchEvent(new CustomEvent("picker-changed"));
  };

  const choose = (picker, wanted) => {
    for (const tick of ticks(picker)) tick.checked = wanted.has(tick.value);
    picker.querySelector("[data-hint]").hidden = true;
    changed(picker);
  };

  const toggled = (now, members) => {
    const all = members.every((key) => now.has(key));
    for (const key of members) {
      if (all) now.delete(key);
      else now.add(key);
    }
    return now;
  };

  document.addEventListener("click", (event) => {
    const at = event.target instanceof Element ? event.target.closest("[data-surface], [data-picker] button") : null;
    const picker = at?.closest("[data-picker]");
    if (!picker) return;
    const now = chosen(picker);
    const to = at.dataset;
    if ("surface" in to) {
      // While leaving out, and where work is done by the panel, a wing or door goes as a whole; otherwise its upper
      // part and lower third are two surfaces.
      const hint = picker.querySelector("[data-hint]");
      const leavingOut = !hint.hidden;
      const lower = `${to.surface}_lower`;
      const byPanel = picker.closest("[data-by-panel]") && picker.querySelector(`[data-surface="${lower}"]`);
      const whole = byPanel || (leavingOut && now.has(to.surface) && now.has(lower));
      choose(picker, toggled(now, whole ? [to.surface, lower] : [to.surface]));
      hint.hidden = !leavingOut;
    } else if ("allBut" in to) {
      choose(picker, new Set([...now, ...keys(to.allBut)]));
      picker.querySelector("[data-hint]").hidden = false;
    } else if ("set" in to) choose(picker, toggled(now, keys(to.set)));
    else if ("mirror" in to) choose(picker, new Set([...now].flatMap((key) => [key, twin(key)])));
    else if ("same" in to) choose(picker, new Set(keys(picker.dataset.last)));
    else if ("none" in to) choose(picker, new Set());
    else if ("list" in to) {
      const open = picker.toggleAttribute("data-listed");
      at.setAttribute("aria-expanded", String(open));
    }
  });

  document.addEventListener("change", (event) => {
    const picker = event.target.closest?.("[data-picker]");
    if (picker) changed(picker);
  });

  const showAll = (root) => {
    for (const picker of root.querySelectorAll?.("[data-picker]") ?? []) show(picker);
    if (root.matches?.("[data-picker]")) show(root);
  };
  document.addEventListener("htmx:load", (event) => showAll(event.target));
  window.addEventListener("pageshow", () => showAll(document));
  showAll(document);
})();
