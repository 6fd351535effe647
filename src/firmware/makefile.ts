/** The Makefile: the gateway for this computer, to test it; and for a board, once its port is there. */

export function makefileText(): string {
  return `# make                                  the gateway with the host port, for tests on this computer
# make board PORT=port_board.c CC=...   object files for a board, with your port; link them with the board's start-up code

CC ?= cc
CFLAGS ?= -O2
WARNINGS = -std=c99 -Wall -Wextra -Werror -pedantic
CORE = gateway.c main.c
HEADERS = gateway.h port.h

gateway_host: $(CORE) gateway_trace.c port_host.c $(HEADERS) gateway_trace.h
	$(CC) $(WARNINGS) $(CFLAGS) -o $@ $(CORE) gateway_trace.c port_host.c

board: $(CORE) $(PORT) $(HEADERS)
	@test -n "$(PORT)" || { echo "name your port: make board PORT=port_board.c"; exit 1; }
	$(CC) $(WARNINGS) $(CFLAGS) -c $(CORE) $(PORT)

clean:
	rm -f gateway_host *.o

.PHONY: board clean
`;
}
