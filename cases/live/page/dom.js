// Elements in one line.

/**
 * @param {string} tag
 * @param {Record<string, any>} [set] properties, or attributes where the name has a - or begins with a capital
 * @param {...(Node | string)} children
 * @returns {any}
 */
export function make(tag, set = {}, ...children) {
  const node = document.createElement(tag);
  for (const [key, value] of Object.entries(set)) {
    if (key.includes('-') || key === 'role' || key === 'for') node.setAttribute(key, value);
    else if (key in node) /** @type {any} */ (node)[key] = value;
    else node.setAttribute(key, value);
  }
  node.append(...children);
  return node;
}

/** @param {string} tag @param {Record<string, string | number>} [set] @param {...(Node | string)} children */
export function draw(tag, set = {}, ...children) {
  const node = document.createElementNS('http://www.w3.org/2000/svg', tag);
  for (const [key, value] of Object.entries(set)) node.setAttribute(key, String(value));
  node.append(...children);
  return node;
}

/** @param {string} id @returns {HTMLElement} */
export function byId(id) { return /** @type {HTMLElement} */ (document.getElementById(id)); }

/**
 * Tabs that arrows move between.
 * @param {HTMLElement} list @param {Record<string, string>} names @param {() => string} now @param {(name: string) => void} go
 */
export function tabs(list, names, now, go) {
  const buttons = Object.entries(names).map(([name, words]) => make('button', { type: 'button', role: 'tab', id: `tab-${name}`,
    onclick: () => go(name) }, words));
  list.replaceChildren(...buttons);
  list.onkeydown = (event) => {
    const way = { ArrowRight: 1, ArrowLeft: -1 }[event.key];
    if (!way) return;
    const keys = Object.keys(names);
    const next = keys[(keys.indexOf(now()) + way + keys.length) % keys.length];
    go(next);
    byId(`tab-${next}`).focus();
    event.preventDefault();
  };
  return () => buttons.forEach((button, i) => {
    const is = Object.keys(names)[i] === now();
    button.setAttribute('aria-selected', String(is));
    button.tabIndex = is ? 0 : -1;
  });
}
