// The map on which a house is put: click, drag, Enter for the middle, or type; field and mark follow each other.
(() => {
  "use strict";

  const element = document.querySelector("[data-map=position]");
  const field = document.querySelector("[data-map-field]");
  if (!element || !field || !window.L) return;

  const begin = [Number(element.dataset.latitude), Number(element.dataset.longitude)];
  const map = houseMap.build(element);
  map.setView(begin, element.dataset.rough ? 12 : 15);
  document.querySelectorAll(".map-points li").forEach((point) => {
    houseMap.mark(Number(point.dataset.latitude), Number(point.dataset.longitude), point.textContent, point.dataset.mark).addTo(map);
  });

  let house = null;
  const write = ({ lat, lng }) => {
    field.value = `${lat.toFixed(6)}, ${lng.toFixed(6)}`;
  };
  const put = (place) => {
    if (house) house.setLatLng(place);
    else {
      house = houseMap.mark(place.lat, place.lng, element.dataset.label, "house", { draggable: true }).addTo(map);
      house.on("dragend", () => write(house.getLatLng()));
    }
  };
  const typed = () => {
    const match = field.value.match(/^\s*(-?\d{1,2}(?:\.\d+)?)\s*[,;\s]\s*(-?\d{1,3}(?:\.\d+)?)\s*$/);
    return match ? L.latLng(Number(match[1]), Number(match[2])) : null;
  };

  map.on("click", (event) => {
    put(event.latlng);
    write(event.latlng);
  });
  element.addEventListener("keydown", (event) => {
    if (event.key !== "Enter" || event.target !== element) return;
    event.preventDefault();
    put(map.getCenter());
    write(map.getCenter());
  });
  field.addEventListener("change", () => {
    const place = typed();
    if (!place) return;
    put(place);
    map.panTo(place);
  });
  const place = typed();
  if (place) {
    put(place);
    map.setView(place, 15);
  }
})();
