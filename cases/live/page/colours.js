// The colours of a flux density: viridis, on a scale of decades.

const VIRIDIS = ('440154 470d60 48186a 482374 472d7b 453781 424086 3e4989 3b528b 375b8d 33638d 2f6b8e 2c728e 297a8e 26828e 23898e 21918c '
  + '1f988b 1fa088 22a785 28ae80 32b67a 3fbc73 4ec36b 5ec962 70cf57 84d44b 98d83e addc30 c2df23 d8e219 ece51b fde725').split(' ')
  .map((c) => [0, 2, 4].map((i) => parseInt(c.slice(i, i + 2), 16)));

/** Decades from the brightest to the darkest. */
export const SPAN = 2.7;

/** @param {number} share 0 dark … 1 bright @returns {number[]} red, green, blue, 0 … 255 */
export function colourOf(share) {
  const at = Math.min(Math.max(share, 0), 1) * (VIRIDIS.length - 1);
  const i = Math.min(Math.floor(at), VIRIDIS.length - 2);
  return VIRIDIS[i].map((c, k) => Math.round(c + (at - i) * (VIRIDIS[i + 1][k] - c)));
}

/** Place of a size on the scale that ends at `high`, 0 … 1. @param {number} size @param {number} high */
export function shareOf(size, high) { return size > 0 ? 1 + Math.log10(size / high) / SPAN : 0; }

/** The same as pixels, 0 … 255 from dark to bright; a share of NaN is no colour. */
const PIXELS = Uint32Array.from({ length: 256 }, (_, i) => {
  const pixel = new Uint8ClampedArray([...colourOf(i / 255), 255]);
  return new Uint32Array(pixel.buffer)[0];
});

/** A pixel for a size on the scale that ends at `high`. @param {number} size @param {number} high */
export function pixelOf(size, high) {
  if (!(size >= 0)) return 0;
  const share = shareOf(size, high);
  return PIXELS[share > 0 ? Math.min(Math.round(255 * share), 255) : 0];
}

/** @param {number} share */
export function css(share) { return `rgb(${colourOf(share).join(' ')})`; }
