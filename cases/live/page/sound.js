// Strings plucked, as they are heard: the program's own samples, all with one gain.
import { make } from './dom.js';
import { on, say, send, state } from './store.js';

const LONGEST = 2.5; // s
const FADE = 0.05; // s, or the end would click
const PEAK = 0.7; // of full scale, the loudest string

/** @type {AudioContext | null} */
let context = null;
/** @type {Set<AudioBufferSourceNode>} */
const ringing = new Set();
let waiting = 0; // the string that is to be heard once it is computed
let asked = ''; // design and topic
let loaded = true;
/** @type {any} */ let stopper;

/** @param {HTMLElement} place */
export function sound(place) {
  const pluckIt = make('button', { type: 'button', id: 'pluck', title: 'also P, and 1 to 9 for the strings; from then on a press on a string in the drawing, too', 'aria-keyshortcuts': 'P', onclick: () => pluck(state.string) }, 'Pluck');
  stopper = make('button', { type: 'button', id: 'silence', disabled: true, onclick: silence }, 'Silence');
  const through = make('input', { type: 'checkbox', id: 'loaded', checked: true, onchange: () => { loaded = through.checked; } });
  place.append(make('p', { className: 'bar swing' }, pluckIt, stopper, make('label', { for: 'loaded', className: 'short' }, through, 'through controls and cable')));
  addEventListener('keydown', (event) => {
    const target = /** @type {HTMLElement} */ (event.target);
    if (event.ctrlKey || event.metaKey || event.altKey || event.repeat || target.closest('input, select, textarea')) return;
    const string = event.key.toLowerCase() === 'p' ? state.string : /^[1-9]$/.test(event.key) ? Number(event.key) : 0;
    if (string && string <= state.scene?.strings.length) { event.preventDefault(); pluck(string); }
  });
  on('pressed', () => { if (context && state.pressed) pluck(state.pressed); state.pressed = 0; }); // once sound was asked for
  on('sound sound_open', () => { if (waiting && known()) { const string = waiting; waiting = 0; say(''); play(string); } });
  on('scene', () => { waiting = 0; });
  on('done', () => { asked = ''; ask(); }); // of something else: it took the place of our question
  on('state', ask);
}

const topic = () => (loaded ? 'sound' : 'sound_open');

function known() {
  const found = state.answers[topic()];
  return found && found.design === state.design ? found.answer : null;
}

/** Hear a string, now or when it is computed. @param {number} string from 1 */
export function pluck(string) {
  context ??= new AudioContext();
  context.resume();
  const found = known();
  if (found?.refused) { say(found.refused); return; }
  if (found) { play(string); return; }
  waiting = string;
  asked = '';
  say(`string ${string} is not yet computed as it is heard; it sounds as soon as it is`);
  ask();
}

/** Only when nothing else is computed: a question of ours would take its place. */
function ask() {
  const wanted = `${state.design} ${topic()}`;
  if (!waiting || state.busy || state.moving || known() || asked === wanted) return;
  asked = wanted;
  send({ kind: 'compute', design: state.design, text: state.text, quality: state.answers.strings?.quality ?? 'draft', topics: [topic()], string: state.string, swing: state.swing });
}

/** @param {number} string */
function play(string) {
  const answer = known();
  if (answer.refused) { say(answer.refused); return; }
  const one = answer.strings.find((/** @type {any} */ s) => s.number === string);
  if (!context || !one) return;
  answer.gain ??= PEAK / Math.max(1e-12, ...answer.strings.map((/** @type {any} */ s) => s.voltage.reduce((/** @type {number} */ a, /** @type {number} */ v) => Math.max(a, Math.abs(v)), 0)));
  const n = Math.min(one.voltage.length, Math.round(LONGEST * answer.rate));
  const buffer = context.createBuffer(1, n, answer.rate);
  const samples = buffer.getChannelData(0);
  const fade = Math.round(FADE * answer.rate);
  for (let i = 0; i < n; i++) samples[i] = answer.gain * one.voltage[i] * Math.min(1, (n - 1 - i) / fade);
  const source = context.createBufferSource();
  source.buffer = buffer;
  source.connect(context.destination);
  source.onended = () => { ringing.delete(source); stopper.disabled = !ringing.size; };
  ringing.add(source);
  stopper.disabled = false;
  source.start();
}

function silence() {
  waiting = 0;
  ringing.forEach((source) => source.stop());
}
