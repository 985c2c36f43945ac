// Runs before the first paint: says that scripts run here, and applies the light or dark choice kept on this device.
(() => {
  const root = document.documentElement;
  root.dataset.script = "";
  try {
    const kept = localStorage.getItem("scheme");
    if (kept === "light" || kept === "dark") root.dataset.scheme = kept;
  } catch {
    // A browser that keeps nothing follows the device.
  }
})();
