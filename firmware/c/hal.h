/* What a board must have. hal_posix.c is the bench; write these few for yours, and nothing else changes. */
#ifndef HAL_H
#define HAL_H

#include "rules.h"

int64_t hal_now_ms(void);               /* a clock that never jumps; no time of day */
void hal_draw(char word[WORD_SIZE]);    /* 8 random letters and digits */
void hal_sleep_ms(int64_t ms);
void hal_light(const char *head, const struct json_words *lamps);

/* Call `tick` every `period_ms`, whatever the program does: a timer interrupt, or a task of its own. */
void hal_watch(int64_t period_ms, void (*tick)(void));

/* Keep the watchdog out for a few microseconds; never held while anything waits. */
void hal_lock(void);
void hal_unlock(void);

#endif
