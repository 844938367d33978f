/* The bench: lamps as lines on standard output, the watchdog as a thread. */
#include "hal.h"

#include <pthread.h>
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

static pthread_mutex_t guard = PTHREAD_MUTEX_INITIALIZER;
static void (*watch_tick)(void);
static int64_t watch_period_ms;

int64_t hal_now_ms(void)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (int64_t)now.tv_sec * 1000 + now.tv_nsec / 1000000;
}

void hal_sleep_ms(int64_t ms)
{
    struct timespec pause = {ms / 1000, (long)(ms % 1000) * 1000000};
    nanosleep(&pause, NULL);
}

void hal_draw(char word[WORD_SIZE])
{
    unsigned char bytes[4];
    FILE *source = fopen("/dev/urandom", "rb");
    if (!source || fread(bytes, 1, sizeof bytes, source) != sizeof bytes)
        abort(); /* without chance an old order could fit */
    fclose(source);
    snprintf(word, WORD_SIZE, "%02x%02x%02x%02x", bytes[0], bytes[1], bytes[2], bytes[3]);
}

void hal_light(const char *head, const struct json_words *lamps)
{
    char line[128];
    int length = snprintf(line, sizeof line, "lamps %s", head);
    for (size_t i = 0; i < lamps->count; i++)
        length += snprintf(line + length, sizeof line - (size_t)length, " %s", lamps->word[i]);
    puts(line);
    fflush(stdout);
}

static void *watch(void *unused)
{
    (void)unused;
    for (;;) {
        hal_sleep_ms(watch_period_ms);
        watch_tick();
    }
    return NULL;
}

void hal_watch(int64_t period_ms, void (*tick)(void))
{
    pthread_t thread;
    watch_period_ms = period_ms;
    watch_tick = tick;
    if (pthread_create(&thread, NULL, watch, NULL) != 0)
        abort(); /* without a watchdog a lamp could stay as it is */
}

void hal_lock(void) { pthread_mutex_lock(&guard); }
void hal_unlock(void) { pthread_mutex_unlock(&guard); }
