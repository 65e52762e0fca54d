// A number and the word after it are never parted at the end of a line (“4 %”, “6 Apr”): the blank
// between them becomes one that does not break, in prose, printed lines and the words of panels.

const PARTED = /(\d) (?=[%A-Za-zµ])/g;
const WORDS = ".jp-RenderedMarkdown, .jp-OutputArea-output";
const NOT_WORDS = "svg, button, select, .cm-editor"; // an option is known by its text

function join(root) {
  const texts = document.createTreeWalker(root, NodeFilter.SHOW_TEXT);
  for (let text = texts.currentNode; text; text = texts.nextNode()) {
    if (text.nodeType !== Node.TEXT_NODE || text.data.search(PARTED) < 0) continue;
    const around = text.parentElement;
    if (around?.closest(WORDS) && !around.closest(NOT_WORDS)) text.data = text.data.replace(PARTED, "$1\u00a0");
  }
}

function render({ el }) {
  el.hidden = true;
  const watcher = new MutationObserver((changes) => {
    for (const change of changes) {
      const fresh = change.type === "characterData" ? [change.target] : change.addedNodes;
      for (const node of fresh) if (!(node instanceof SVGElement)) join(node);
    }
  });
  watcher.observe(document.body, { childList: true, characterData: true, subtree: true });
  join(document.body);
  return () => watcher.disconnect();
}

export default { render };
