// Shows what a page asks to be told, and opens the result when it is touched. It answers no request.

self.addEventListener("notificationclick", (event) => {
  event.notification.close();
  event.waitUntil(self.clients.openWindow(event.notification.data));
});
