// A screen that stays on. Browsers grant it only to pages of this computer or over an encrypted connection.

export const canStayAwake = (): boolean => 'wakeLock' in navigator;

/** Keep the screen on until what is returned is called; a page that was hidden asks again when it is seen. */
export function keepAwake(): () => void {
  if (!canStayAwake()) return () => undefined;
  let lock: WakeLockSentinel | null = null;
  let over = false;
  async function ask(): Promise<void> {
    if (over || document.visibilityState !== 'visible') return;
    const held = await navigator.wakeLock.request('screen').catch(() => null);
    if (over) void held?.release();
    else lock = held;
  }
  const seen = (): void => void ask();
  document.addEventListener('visibilitychange', seen);
  void ask();
  return () => {
    over = true;
    document.removeEventListener('visibilitychange', seen);
    void lock?.release();
  };
}
