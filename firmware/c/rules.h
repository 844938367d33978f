/* What a head obeys, and for how long: the sentences of docs/integration.md. Pure: the caller brings the
   time (ms of a clock that never jumps) and the random words. No memory is taken, nothing waits. */
#ifndef RULES_H
#define RULES_H

#include "json.h"

#define SEQ_MAX INT64_C(2147483647)
#define BOOTS_KEPT 4
#define HEADS_MAX 4

struct heard {
    char boot[WORD_SIZE];
    int64_t seq, at_ms;
};

struct lease {
    int64_t ms, ends_ms;
    bool running; /* boot, epoch and test are of the last new beat */
    char boot[WORD_SIZE];
    int64_t epoch;
    bool test, stop;
    int64_t echo;
    char inc[WORD_SIZE];
    struct heard heard[BOOTS_KEPT];
    size_t boots;
};

struct order {
    char boot[WORD_SIZE], inc[WORD_SIZE], aspect[WORD_SIZE];
    int64_t seq, epoch;
    bool has_lamps;
    struct json_words lamps;
};

struct display {
    const char *aspect;
    struct json_words lamps;
};

struct head {
    char id[WORD_SIZE];
    const char *fail;
    bool tripped;
    struct order kept[BOOTS_KEPT];
    size_t orders;
    struct display shown;
    unsigned changes;
    int64_t after_ms;
};

/* `draw` fills a word of 8 random letters and digits. */
void lease_begin(struct lease *lease, int64_t ms, void (*draw)(char word[WORD_SIZE]));
bool lease_alive(const struct lease *lease, int64_t now_ms);
void lease_pass_time(struct lease *lease, int64_t now_ms);

/* Take a beat, or an order for a head; NULL if it was taken, else why not, and nothing has changed. */
const char *lease_hear(struct lease *lease, const char *payload, size_t size, int64_t now_ms);
const char *head_hear(struct head *head, const struct lease *lease, const char *payload, size_t size);

/* Whether a head can show an aspect at all. */
bool head_has(const char *aspect);

/* Bring `shown` to what is due now; true if it changed. May be called at any moment, however often. */
bool head_drive(struct head *head, const struct lease *lease, int64_t now_ms);

#endif
