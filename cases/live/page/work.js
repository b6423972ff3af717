// What is computed: how far it is, how long it will take, and a way to end it.
import { byId, make } from './dom.js';
import { cancel, follow, isQuick, normal, on, state, touch } from './store.js';

const SOON = 700; // ms after which a computation is worth a word and a button

/** @type {number | undefined} */
let ticking;

export function work() {
  const words = make('span', {});
  const stop = make('button', { type: 'button', id: 'cancel', hidden: true, onclick: cancel }, 'Cancel');
  const finer = make('button', { type: 'button', id: 'finer', hidden: true, title: 'Compute this design in the normal quality', onclick: normal }, 'Compute finer');
  const again = make('button', { type: 'button', id: 'follow', hidden: true, onclick: () => follow(true) }, 'Follow the class');
  byId('state').replaceChildren(words, stop, finer, again);
  let reader = false;
  on('state answers done following', () => {
    clearTimeout(ticking);
    const answer = state.answers.strings;
    const ran = state.busy ? performance.now() - state.busy.since : 0;
    reader ||= state.following;
    words.textContent = !state.there ? 'the program is not there; the design is kept here' : state.following ? 'you see the page of the class'
      : state.busy && ran > SOON ? progress(ran) : answer ? belongs(answer) : 'computing';
    stop.hidden = !(state.busy && ran > SOON);
    finer.hidden = isQuick() || Boolean(state.busy) || !answer || answer.design !== state.design || answer.quality === 'normal';
    again.hidden = !reader || state.following;
    if (state.busy) ticking = window.setTimeout(() => touch('state'), SOON);
  });
}

/** @param {number} ran */
function progress(ran) {
  const busy = state.busy;
  if (!busy?.stage) return 'computing';
  const left = busy.share > 0.05 ? ran / 1000 * (1 / busy.share - 1) : NaN;
  const time = left > 2 ? `, some ${left < 90 ? `${Math.round(left)} s` : `${Math.round(left / 60)} min`} left` : '';
  return `${busy.stage}, ${Math.round(100 * busy.share)} %${time}`;
}

/** @param {import('./store.js').Answer} answer */
function belongs(answer) {
  return `${answer.quality}${answer.design === state.design ? '' : ', of the design before'}`;
}
