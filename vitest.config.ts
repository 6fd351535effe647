import { defineConfig } from 'vitest/config';

export default defineConfig({
  test: {
    include: ['test/**/*.test.ts'],
    exclude: ['test/long/**'],
    testTimeout: 60_000,
    hookTimeout: 120_000,
    maxWorkers: 2,
    // Pages in a browser on a machine with more work than processors now and then miss a key or a moment; what is broken
    // stays broken however often it is tried.
    retry: 3,
  },
});
