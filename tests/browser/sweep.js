// What a sweep asks of a page as it stands; axe is there too. Each answer is a list of complaints.
//
// Runs in the page before any script of its own.

// What the policy blocked, and what the page tried to send other than by a request.
globalThis.blocked = [];
addEventListener('securitypolicyviolation', (event) =>
  blocked.push(`${event.violatedDirective} ${event.blockedURI} ${event.sourceFile}`));
globalThis.sent = [];
navigator.sendBeacon = (url) => { sent.push(`beacon ${url}`); return true; };
for (const name of ['WebSocket', 'EventSource', 'RTCPeerConnection', 'WebTransport']) {
  const original = globalThis[name];
  if (original) globalThis[name] = class extends original {
    constructor(...all) { sent.push(`${name} ${all[0]}`); super(...all); }
  };
}

globalThis.sweep = (() => {
  const every = (selector, part = document) => [...part.querySelectorAll(selector)];
  const short = (element) => element.outerHTML.slice(0, 90);
  const here = (complaints) => complaints.map((each) => `${location.pathname} ${each}`);
  const shown = (element) => element.checkVisibility({visibilityProperty: true});

  const until = async (condition, what) => {
    const end = performance.now() + 60000;
    while (!condition()) {
      if (performance.now() > end) throw new Error(`${location.pathname}: ${what}, not in 60 s`);
      await new Promise((go) => setTimeout(go, 20));
    }
  };
  const ready = () => until(
    () => document.readyState === 'complete' && globalThis.document$, 'the theme has started');

  const scheme = () => document.body.dataset.mdColorScheme;
  // The reader's own switch between day and night.
  const turn = async () => {
    const [wanted, number] = scheme() === 'slate' ? ['default', 0] : ['slate', 1];
    document.getElementById(`__palette_${number}`).click();
    await until(() => scheme() === wanted, `the page turns ${wanted}`);
  };

  // What axe objects to within a part of the page, best practices included.
  const look = async (part = '', rules = null) => {
    await document.fonts.ready;
    // Colours that still fade would be taken for the colours.
    await Promise.all(document.getAnimations()
      .filter((each) => each.effect.getComputedTiming().endTime !== Infinity)
      .map((each) => each.finished.catch(() => {})));
    const {violations} = await axe.run(part ? document.querySelector(part) : document, {
      resultTypes: ['violations'], preload: false, ...(rules && {runOnly: rules})});
    return here(violations.flatMap(({id, nodes}) => nodes.map(({html, failureSummary}) =>
      `${scheme()}: ${id}: ${html.slice(0, 160)}: ${failureSummary.slice(0, 300)}`)));
  };
  // Everything in the colours as they are, then what only colours change, in the others.
  const both = async (part = '') => {
    const found = await look(part);
    await turn();
    return [...found, ...await look(part, ['color-contrast'])];
  };

  // What a screen reader would have no name or no place for.
  const nameless = () => {
    const bad = [];
    const note = (element, why) => bad.push(`${why}: ${short(element)}`);
    const text = (ids) => (ids ?? '').split(' ').filter(Boolean)
      .map((id) => document.getElementById(id)?.textContent.trim() ?? '');
    const content = document.querySelector('.md-content');
    for (const box of every('input, select, textarea', content)) {
      if (!box.labels?.length && !box.ariaLabel) note(box, 'no label');
      for (const id of (box.getAttribute('aria-describedby') ?? '').split(' ').filter(Boolean)) {
        if (!document.getElementById(id)) note(box, `describes nothing ${id}`);
      }
    }
    for (const svg of every('svg.fs-svg, svg[role=img]', content)) {
      if (svg.closest('[aria-hidden=true]')) continue;
      const named = text(svg.getAttribute('aria-labelledby'));
      if (svg.getAttribute('role') !== 'img') note(svg, 'no role');
      if (named.length < 2 || named.some((part) => part.length < 3)) {
        note(svg, 'no title or description');
      }
    }
    for (const part of every('[role=region], progress, form', content)) {
      if (!part.ariaLabel && !text(part.getAttribute('aria-labelledby')).join('')) {
        note(part, 'no name');
      }
    }
    for (const calculator of every('.fs-calc', content)) {
      if (every('.fs-bar [role=status]', calculator).length !== 1) {
        note(calculator, 'not one status');
      }
    }
    for (const one of ['main', 'h1', 'header[data-md-component=header]', '.md-skip']) {
      if (every(one).length !== 1) bad.push(`${every(one).length} ${one}`);
    }
    return here(bad);
  };

  // Controls below 24 px either way, links in running text apart.
  const small = () => here(
    every('.md-content :is(button, input, select, summary), .md-header label')
      .filter(shown)
      .map((e) => [e, e.getBoundingClientRect()])
      .filter(([e, r]) => r.width && (r.width < 24 || r.height < 24)
        // a button whose whole card is its target
        && getComputedStyle(e, '::before').position !== 'absolute')
      .map(([e, r]) => `${short(e)} ${r.width.toFixed()}x${r.height.toFixed()}`));

  // What moves by itself, or takes its time, for readers who asked that nothing does.
  const moving = () => {
    if (!matchMedia('(prefers-reduced-motion: reduce)').matches) throw new Error('nobody asked');
    const still = (text) => text.split(',').every((t) => parseFloat(t) === 0);
    return here(every('*').flatMap((e) => ['', '::before', '::after'].map((part) => {
      const style = getComputedStyle(e, part || null);
      return (style.animationName === 'none' || still(style.animationDuration))
        && still(style.transitionDuration) && style.scrollBehavior === 'auto'
        ? '' : `moves: ${e.tagName}.${e.className}${part}`;
    })).filter(Boolean).concat(
      every('animate, animateTransform').map((e) => `moves: ${short(e)}`)));
  };

  // Text spaced as WCAG 2.2, 1.4.12 allows readers to space it; what is then cut off.
  const spaced = () => {
    const sheet = new CSSStyleSheet();
    sheet.replaceSync(`* { line-height: 1.5 !important; letter-spacing: 0.12em !important;
      word-spacing: 0.16em !important } p { margin-bottom: 2em !important }`);
    document.adoptedStyleSheets.push(sheet);
    const cut = every('.md-content *').filter((e) => {
      const style = getComputedStyle(e);
      return /hidden|clip/.test(style.overflowX + style.overflowY)
        && !/INPUT|SELECT|PROGRESS/.test(e.tagName) && !e.closest('svg, .fs-sr')
        && e.textContent.trim() && e.clientWidth > 1
        && (e.scrollWidth > e.clientWidth + 1 || e.scrollHeight > e.clientHeight + 1);
    }).map((e) => `cut when spaced: ${short(e)}`);
    cut.push(...wide('when spaced'));
    document.adoptedStyleSheets.pop();
    return here(cut);
  };

  const wide = (when = '') => {
    const width = document.scrollingElement.scrollWidth;
    return width > innerWidth ? [`${width} px of content on ${innerWidth} px ${when}`] : [];
  };

  // What paper shows too much or too little of.
  const printed = () => {
    const there = (e) => shown(e) && e.getBoundingClientRect().width > 1;
    const furniture = '.md-header, .md-tabs, .md-sidebar, .md-footer__inner, .md-skip, '
      + '.fs-buttons, .fs-actions, .fs-bar, .fs-keep, .headerlink';
    const bad = every(furniture).filter(there).map((e) => `printed: ${e.className}`);
    if (!there(document.querySelector('h1'))
      && !document.querySelector('[data-slug=field-card]')) bad.push('no heading');
    for (const verdict of every('.fs-verdict')) {
      if (!there(verdict)) bad.push('no verdict');
      if (getComputedStyle(verdict).position !== 'static') bad.push('verdict stands');
    }
    return here([...bad, ...wide('of paper')]);
  };

  // What the page left on this device, and what it was kept from doing.
  const traces = async () => ({
    blocked, sent,
    keys: Object.keys(localStorage),
    databases: (await indexedDB.databases()).map(({name}) => name),
  });

  const unfold = () => { for (const details of every('details')) details.open = true; };
  return {
    ready, unfold, look, both, nameless, small, moving, spaced, printed, traces,
    wide: () => here(wide()),
  };
})();
