// The site's clock, whatever the device's zone: an offset, then each instant of a change and the next offset.
const local = (t) => {
  const zone = document.body.dataset.zone.split(" ").map(Number);
  let offset = zone[0];
  for (let i = 1; i < zone.length && t >= zone[i]; i += 2) offset = zone[i + 1];
  return new Date((t + offset) * 1000).toISOString();
};
const clock = (t) => local(t).slice(11, 19);
