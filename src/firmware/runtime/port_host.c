/*
 * A port for a desktop computer: plays a file of frames and steps through the gateway and tells what it computes. For
 * tests only; it drives no bus.
 *
 *   gateway_host < events              writes 4 bytes per step: a hash of all that the step sent and computed
 *   SHOW_STEP=7 gateway_host < events  prints what step 7 sent and computed (the first is 0), then ends
 *
 * Events, all numbers little-endian:
 *   'F' bus (1) flags (1: 1 = 29-bit identifier) length (1) identifier (4) payload (length)
 *   'S' clock in ms (4) levels of the pins (4: bit 0 = pin 0)
 *   'R' the gateway starts anew, as after switching on
 */
#include <stdio.h>
#include <stdlib.h>

#include "gateway.h"
#include "gateway_trace.h"
#include "port.h"

extern struct gateway gateway;

#define HASH_START 2166136261u
#define HASH_FACTOR 16777619u

static long step;
static long shown_step = -1;
static uint32_t clock_ms;
static uint32_t levels;
static uint32_t hash;
static uint32_t values[GATEWAY_TRACE_ROOM];

static void mix(uint32_t value)
{
    hash = (hash ^ value) * HASH_FACTOR;
}

static int next_byte(void)
{
    const int c = getchar();
    if (c == EOF) {
        exit(EXIT_SUCCESS);
    }
    return c;
}

static uint32_t next_word(void)
{
    uint32_t word = 0;
    for (uint32_t shift = 0; shift < 32; shift += 8) {
        word |= (uint32_t)next_byte() << shift;
    }
    return word;
}

bool port_start(void)
{
    const char *wanted = getenv("SHOW_STEP");
    if (wanted != NULL) {
        shown_step = strtol(wanted, NULL, 10);
    }
    return true;
}

uint32_t port_clock_ms(void)
{
    return clock_ms;
}

void port_wait_until(uint32_t due_ms)
{
    (void)due_ms;
}

bool port_receive(struct port_frame *frame)
{
    int kind = next_byte();
    if (kind == 'R') {
        gateway_start(&gateway);
        kind = next_byte();
    }
    if (kind == 'S') {
        clock_ms = next_word();
        levels = next_word();
        hash = HASH_START;
        return false;
    }
    frame->bus = (uint8_t)next_byte();
    frame->extended = next_byte() % 2 == 1;
    frame->length = (uint8_t)next_byte();
    frame->id = next_word();
    for (int i = 0; i < frame->length; i++) {
        const uint8_t byte = (uint8_t)next_byte();
        if (i < PORT_PAYLOAD) {
            frame->payload[i] = byte;
        }
    }
    return true;
}

bool port_pin(uint8_t pin)
{
    return (levels >> pin) % 2u == 1u;
}

bool port_send(const struct port_frame *frame)
{
    mix(frame->bus);
    mix(frame->id);
    mix(frame->extended ? 1u : 0u);
    mix(frame->length);
    for (int i = 0; i < frame->length; i++) {
        mix(frame->payload[i]);
    }
    if (step == shown_step) {
        printf("sent %u %08lX", (unsigned)frame->bus, (unsigned long)frame->id);
        for (int i = 0; i < frame->length; i++) {
            printf(" %02X", (unsigned)frame->payload[i]);
        }
        printf("\n");
    }
    return true;
}

void port_alive(void)
{
    gateway_trace(&gateway, values);
    for (int i = 0; i < GATEWAY_TRACE_COUNT; i++) {
        mix(values[i]);
    }
    if (step == shown_step) {
        for (int i = 0; i < GATEWAY_TRACE_COUNT; i++) {
            printf("%s %ld\n", gateway_trace_names[i], (long)(int32_t)values[i]);
        }
        exit(EXIT_SUCCESS);
    }
    if (shown_step < 0) {
        for (uint32_t shift = 0; shift < 32; shift += 8) {
            (void)putchar((int)((hash >> shift) % 256u));
        }
    }
    step++;
}
