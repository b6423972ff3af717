// What is computed: how far it is, how long it will take, and a way to end it.
import { byId, make } from './dom.js';
import { again, cancel, follow, isQuick, isStopped, normal, on, state, touch } from './store.js';

const SOON = 700; // ms after which a computation is worth a word and a button

/** @type {number | undefined} */
let ticking;

export function work() {
  const words = make('span', {});
  const stop = make('button', { type: 'button', id: 'cancel', hidden: true, onclick: cancel }, 'Cancel');
  const finer = make('button', { type: 'button', id: 'finer', hidden: true, title: 'Compute this design in the normal quality', onclick: normal }, 'Compute finer');
  const anew = make('button', { type: 'button', id: 'anew', hidden: true, title: 'Compute this design after all', onclick: again }, 'Compute');
  const back = make('button', { type: 'button', id: 'follow', hidden: true, onclick: () => follow(true) }, 'Follow the class');
  byId('state').replaceChildren(words, stop, anew, finer, back);
  let reader = false;
  on('state answers done following', () => {
    clearTimeout(ticking);
    const answer = state.answers.strings;
    const own = state.busy?.design === state.design ? state.busy : null; // what is computed may be of a design before
    const ran = own ? performance.now() - own.since : 0;
    reader ||= state.following;
    words.textContent = !state.there ? 'the program is not there; the design is kept here' : state.following ? 'you see the page of the class'
      : ran > SOON ? progress() : answer ? belongs(answer) : 'computing';
    stop.hidden = ran <= SOON;
    anew.hidden = Boolean(own) || !isStopped() || answer?.design === state.design;
    finer.hidden = isQuick() || Boolean(own) || !answer || answer.design !== state.design || answer.quality === 'normal';
    back.hidden = !reader || state.following;
    if (state.busy) ticking = window.setTimeout(() => touch('state'), SOON);
  });
}

function progress() {
  const busy = state.busy;
  if (!busy?.stage) return 'computing';
  const of = performance.now() - (busy.from ?? busy.since);
  const left = busy.share > 0.05 && of > SOON ? of / 1000 * (1 / busy.share - 1) : NaN;
  const time = left > 2 ? `, some ${left < 90 ? `${Math.round(left)} s` : `${Math.round(left / 60)} min`} left` : '';
  return `${busy.stage}, ${Math.round(100 * busy.share)} %${time}`;
}

/** @param {import('./store.js').Answer} answer */
function belongs(answer) {
  return `${answer.quality}${answer.design === state.design ? '' : ', of the design before'}`;
}
