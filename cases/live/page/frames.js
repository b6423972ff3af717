// What the program sends: a head of JSON, and the numbers of its arrays behind it (cases/live/frames.py).

/** @typedef {Float32Array & {shape?: number[]}} Numbers */

/**
 * @param {ArrayBuffer} buffer
 * @returns {any} the head with its arrays in place, each with its shape
 */
export function unpacked(buffer) {
  const length = new DataView(buffer).getUint32(0, true);
  const head = JSON.parse(new TextDecoder().decode(new Uint8Array(buffer, 4, length)));
  return filled(head, buffer, 4 + length);
}

/** @param {any} node @param {ArrayBuffer} buffer @param {number} start @returns {any} */
function filled(node, buffer, start) {
  if (Array.isArray(node)) return node.map((item) => filled(item, buffer, start));
  if (node === null || typeof node !== 'object') return node;
  if (Array.isArray(node.shape) && typeof node.at === 'number' && Object.keys(node).length === 2) {
    const size = node.shape.reduce((/** @type {number} */ a, /** @type {number} */ b) => a * b, 1);
    /** @type {Numbers} */
    const numbers = new Float32Array(buffer, start + 4 * node.at, size);
    numbers.shape = node.shape;
    return numbers;
  }
  for (const key of Object.keys(node)) node[key] = filled(node[key], buffer, start);
  return node;
}

/**
 * Row i of a two-dimensional array.
 * @param {Numbers} numbers @param {number} i
 */
export function row(numbers, i) {
  const n = (numbers.shape ?? [1, numbers.length])[1];
  return numbers.subarray(i * n, (i + 1) * n);
}
