// Nothing is lost: the state is kept by the program at rest, and offered again.
import { byId, make } from './dom.js';
import { listenTo, on, replace, say, send, state, touch } from './store.js';

const REST = 1500; // ms

export function kept() {
  /** @type {number | undefined} */
  let waiting;
  /** @type {any} */
  let offered = null;
  listenTo.set('opened', (message) => { offered = message.kept ?? null; });
  listenTo.set('unkept', (message) => say(message.says));
  on('began', () => { if (offered && offered.text !== state.text) offer(offered); });
  on('scene pins', () => {
    clearTimeout(waiting);
    waiting = window.setTimeout(() => {
      if (offered || state.following || !state.text) return; // what is offered is not written over before it is answered
      send({ kind: 'keep', text: state.text, pins: state.pins.map((p) => ({ name: p.name, text: p.text })) });
    }, REST);
  });

  /** @param {any} found */
  function offer(found) {
    const box = byId('offer');
    const close = () => { offered = null; box.hidden = true; box.replaceChildren(); touch('pins'); };
    const when = new Date(found.when);
    box.hidden = false;
    box.replaceChildren(make('span', {}, `This case was left changed ${Number.isNaN(when.valueOf()) ? '' : `on ${when.toLocaleString()}`}. `),
      make('button', { type: 'button', onclick: async () => {
        close();
        state.pins = found.pins.map((/** @type {any} */ p, /** @type {number} */ i) => ({ name: p.name, text: p.text, design: -1 - i, answers: {} }));
        await replace(found.text);
        touch('pins');
      } }, 'Go on where you left off'),
      make('button', { type: 'button', onclick: close }, 'Begin with the file'));
  }
}
