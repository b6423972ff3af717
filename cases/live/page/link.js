// The socket: asks, hands answers on, and comes back by itself after a sleep.
import { unpacked } from './frames.js';

/**
 * @typedef {object} Link
 * @property {(message: object) => boolean} send false while there is no connection
 * @property {() => boolean} open
 */

/**
 * @param {(message: any) => void} hear
 * @param {(there: boolean) => void} state
 * @returns {Link}
 */
export function link(hear, state) {
  /** @type {WebSocket | null} */
  let socket = null;
  let wait = 200;
  let gone = false;
  const address = new URL('socket', location.href);
  address.protocol = address.protocol.replace('http', 'ws');
  address.hash = '';

  /** A program that was started anew has another address: then there is nobody to wait for. */
  async function look() {
    const answer = await fetch(new URL('.', location.href), { cache: 'no-store' }).catch(() => null);
    gone = answer?.status === 404 || answer?.status === 403;
    if (gone) hear({ kind: 'refused', says: 'the program was started anew and has another address; save the design here and open it there' });
  }

  function connect() {
    socket = new WebSocket(address);
    socket.binaryType = 'arraybuffer';
    socket.onopen = () => { wait = 200; state(true); };
    socket.onmessage = (event) => hear(unpacked(event.data));
    socket.onclose = () => {
      const was = socket;
      socket = null;
      state(false);
      if (was && !gone) look();
      setTimeout(connect, wait);
      wait = Math.min(2 * wait, 3000);
    };
  }
  connect();
  return {
    send(message) {
      if (!socket || socket.readyState !== WebSocket.OPEN) return false;
      socket.send(JSON.stringify(message));
      return true;
    },
    open: () => socket !== null && socket.readyState === WebSocket.OPEN,
  };
}
