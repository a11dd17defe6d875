// Tells that a check is over: by the page's title, and by a notification where it was allowed.

const told = window.plumbsetTold || (window.plumbsetTold = new Map());

async function notify(words, address, worker) {
  if (!document.hidden || !("Notification" in window) || Notification.permission !== "granted") return;
  const ready = await navigator.serviceWorker?.register(worker);
  await ready?.showNotification("Plumbset", { body: words, data: address, tag: address });
}

export default function ({ parentElement, data }) {
  const button = parentElement.querySelector("button");
  const before = told.get(data.set);
  told.set(data.set, data.done);
  const may = "Notification" in window && window.isSecureContext && Notification.permission === "default";
  button.hidden = data.done || !may;
  button.onclick = async () => {
    await Notification.requestPermission();
    button.hidden = true;
  };
  if (data.done && before === false) {
    document.title = data.words;
    notify(data.words, data.address, data.worker).catch(() => undefined);
  } else if (!data.done) document.title = "Being checked · Plumbset";
}
