// Maps: a plain ground, or tiles where an address is given, with marks that have words. Used by the pages' own scripts.
(() => {
  "use strict";

  const build = (element) => {
    const map = L.map(element, { attributionControl: false, scrollWheelZoom: false, zoomSnap: 0.5 });
    const metric = element.dataset.units === "metric";
    L.control.scale({ metric, imperial: !metric }).addTo(map);
    if (element.dataset.tiles) {
      L.tileLayer(element.dataset.tiles, { maxZoom: 19 }).addTo(map);
      const words = document.createElement("span");
      words.textContent = element.dataset.credit || "";
      L.control.attribution({ prefix: false }).addAttribution(words.innerHTML).addTo(map);
    }
    return map;
  };

  const mark = (latitude, longitude, label, kind, options = {}) => {
    const size = kind === "other" ? 12 : 26;
    const icon = L.divIcon({ className: `map-mark is-${kind}`, iconSize: [size, size] });
    const words = document.createElement("span");
    words.textContent = label;
    return L.marker([latitude, longitude], { icon, alt: label, keyboard: kind !== "other", ...options }).bindTooltip(words, {
      permanent: kind !== "other",
      direction: "right",
      offset: [size / 2, 0],
      className: "map-word",
    });
  };

  window.houseMap = { build, mark };
})();
