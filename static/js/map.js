// Draws the map of an element with data-map: points with words, without tiles unless an address is given.
// The element's data: points (JSON: latitude, longitude, label, mark), tiles, credit.
(() => {
  "use strict";

  const build = (element, points) => {
    const map = L.map(element, { attributionControl: false, keyboard: true, scrollWheelZoom: false });
    L.control.scale({ imperial: element.dataset.units !== "metric", metric: element.dataset.units === "metric" }).addTo(map);
    if (element.dataset.tiles) {
      L.tileLayer(element.dataset.tiles, { maxZoom: 19, referrerPolicy: "no-referrer" }).addTo(map);
      L.control.attribution({ prefix: false }).addAttribution(element.dataset.credit || "").addTo(map);
    }
    const bounds = L.latLngBounds(points.map((point) => [point.latitude, point.longitude]));
    map.fitBounds(bounds.pad(0.3), { maxZoom: 14 });
    return map;
  };

  const marker = (point, options = {}) =>
    L.marker([point.latitude, point.longitude], {
      icon: L.divIcon({ className: `map-mark is-${point.mark || "house"}`, html: "", iconSize: [26, 26], iconAnchor: [13, 13] }),
      title: point.label,
      alt: point.label,
      ...options,
    }).bindTooltip(point.label, { permanent: points_named(point), direction: "right", offset: [12, 0], className: "map-word" });

  const points_named = (point) => Boolean(point.named);

  window.houseMap = { build, marker };
})();
