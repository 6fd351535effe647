/*
 * The loop of the gateway. Once per step: take what the buses brought, read the pins, compute, send.
 * The same file runs on the board and, with port_host.c, in the tests.
 */
#include "gateway.h"
#include "port.h"

/* Not static, so that a debugger and the host port can look at it. */
struct gateway gateway;

/* Bounded, so that a port that never runs dry cannot hold up the steps. */
static void take_frames(void)
{
    struct port_frame frame;
    for (int32_t n = 0; n < GATEWAY_FRAMES_PER_STEP && port_receive(&frame); n++) {
        gateway_receive(&gateway, &frame);
    }
}

static void read_pins(bool active[GATEWAY_PIN_ROOM])
{
    for (int32_t pin = 0; pin < GATEWAY_PIN_COUNT; pin++) {
        active[pin] = port_pin((uint8_t)pin) == gateway_pin_active_level[pin];
    }
}

static void send_frames(void)
{
    struct port_frame frame;
    for (int32_t message = 0; message < GATEWAY_TX_COUNT; message++) {
        if (gateway_frame(&gateway, message, &frame)) {
            (void)port_send(&frame);
        }
    }
}

int main(void)
{
    bool pins[GATEWAY_PIN_ROOM] = { false };
    if (!port_start()) {
        return 1;
    }
    gateway_start(&gateway);
    uint32_t due_ms = port_clock_ms();
    for (;;) {
        due_ms += GATEWAY_STEP_MS;
        port_wait_until(due_ms);
        take_frames();
        const uint32_t now_ms = port_clock_ms();
        /* After a delay of a step or more the beat starts anew; the guard sees the uneven step by its own clock. */
        if ((uint32_t)(now_ms - due_ms) >= GATEWAY_STEP_MS) {
            due_ms = now_ms;
        }
        read_pins(pins);
        gateway_step(&gateway, now_ms, pins);
        send_frames();
        port_alive();
    }
}
