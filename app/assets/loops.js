// Two repetitions side by side, as a part of the page.

const pairs = new WeakMap();

export default function (component) {
  const { parentElement, data } = component;
  const root = parentElement.querySelector(".plumb-loops");
  if (!pairs.has(root)) pairs.set(root, new Pair(root));
  pairs.get(root).show([data.mine, data.best]);
  return () => {
    pairs.get(root)?.end();
    pairs.delete(root);
  };
}
