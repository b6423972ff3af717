// The design in the page's address, packed, so that it can be kept as a bookmark or sent.

const LARGEST = 2e5; // bytes

/** The design that the address holds, if it holds one. @returns {Promise<string | null>} */
export async function inAddress() {
  const found = /^#design=([A-Za-z0-9_-]+)$/.exec(location.hash);
  if (!found) return null;
  try {
    return await unpacked(found[1]);
  } catch {
    return null; // cut short, or of another program
  }
}

/** @param {string} text */
export async function packed(text) {
  const stream = new Blob([text]).stream().pipeThrough(new CompressionStream('deflate-raw'));
  const bytes = new Uint8Array(await new Response(stream).arrayBuffer());
  let out = '';
  for (const b of bytes) out += String.fromCharCode(b);
  return btoa(out).replaceAll('+', '-').replaceAll('/', '_').replaceAll('=', '');
}

/** @param {string} word */
async function unpacked(word) {
  const bytes = Uint8Array.from(atob(word.replaceAll('-', '+').replaceAll('_', '/')), (c) => c.charCodeAt(0));
  const reader = new Blob([bytes]).stream().pipeThrough(new DecompressionStream('deflate-raw')).getReader();
  const parts = [];
  let size = 0;
  for (;;) {
    const { done, value } = await reader.read();
    if (done) break;
    size += value.length;
    if (size > LARGEST) throw new Error('too large');
    parts.push(value);
  }
  return new Blob(parts).text();
}
