import type { Socket } from 'node:dgram';

/** Closes a socket that nobody listens to any more, whether or not it was ever bound. */
export function dropSocket(socket: Socket): void {
  socket.removeAllListeners();
  // A closing socket may still report an error, which would end the process.
  socket.on('error', () => undefined);
  try {
    socket.close();
  } catch {
    // Never bound, or closed already.
  }
}
