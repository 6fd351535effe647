/*
 * What the board must do for the gateway: seven functions, to be written for the board in one file. Nothing else in this
 * project touches hardware. None of them may wait for a bus: a full or silent bus must not hold up the steps.
 */
#ifndef PORT_H
#define PORT_H

#include <stdbool.h>
#include <stdint.h>

#define PORT_PAYLOAD 64

/* A data frame as it is on the bus. Error frames and remote frames stay in the port. */
struct port_frame {
    uint32_t id;                   /* 11 or 29 bits */
    uint8_t bus;                   /* one of GATEWAY_BUS_... */
    bool extended;                 /* the identifier has 29 bits */
    uint8_t length;                /* bytes of payload, 0 to 64; above 8 it is a CAN FD frame */
    uint8_t payload[PORT_PAYLOAD];
};

/* Sets up clock, pins, CAN controllers and the hardware watchdog. False: something failed, and nothing will be sent. */
bool port_start(void);

/* Milliseconds since any moment; after 4294967295 comes 0. */
uint32_t port_clock_ms(void);

/* Returns at `due_ms` by the clock above, or at once if that has passed; the processor may sleep until then. */
void port_wait_until(uint32_t due_ms);

/* Takes the oldest frame received and not taken yet, from any bus. False: there is none. */
bool port_receive(struct port_frame *frame);

/* Hands a frame to its bus. False: no room, the frame is dropped, and its receiver sees the gap in the counter. */
bool port_send(const struct port_frame *frame);

/* Level of a digital input, true = high; `pin` is one of GATEWAY_PIN_... */
bool port_pin(uint8_t pin);

/* Called after every step: feeds the hardware watchdog, which must reset the processor when steps stay away. */
void port_alive(void);

#endif
