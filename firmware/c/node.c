/* A head node: MQTT 3.1.1 by libmosquitto around rules.c.

   head --host H --port P --password W --root R --node N --lease MS --fail ASPECT --head ID [--head ID ...]

   --fail holds for the heads after it: --fail yellow-flash --head h1 --head h3 --fail red --head px1 */
#include "hal.h"

#include <inttypes.h>
#include <mosquitto.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define KEEPALIVE_S 5 /* the least that libmosquitto takes */
#define RETRY_MS 300
#define LOOK_MS 5
#define WATCH_MS 10
#define REPORTS_PER_LEASE 4
#define MESSAGE_MAX 240
#define TOPIC_MAX 128
#define TEXT_MAX 512

static struct {
    const char *host, *password, *root, *node;
    int port;
} config = {"127.0.0.1", "", "", "", 1883};

static struct lease lease;
static struct head heads[HEADS_MAX];
static size_t heads_count;
static const char *fail = "yellow-flash";
static char boot[WORD_SIZE];
static int64_t rejects, seqs[HEADS_MAX];
static char last_reject[TEXT_MAX / 4];
static unsigned said_changes[HEADS_MAX];
static char said_inc[WORD_SIZE];
static int64_t said_rejects, report_at_ms;
static bool connected;

static void topic(char into[TOPIC_MAX], const char *a, const char *b, const char *c)
{
    const char *first = b ? "/" : "", *second = c ? "/" : "";
    snprintf(into, TOPIC_MAX, "%.48s/%.16s%s%.16s%s%.16s", config.root, a, first, b ? b : "", second, c ? c : "");
}

/* Light what is due. The watchdog's only work: it waits for no packet, no connection and no other code. */
static void drive(void)
{
    hal_lock();
    int64_t now_ms = hal_now_ms();
    for (size_t i = 0; i < heads_count; i++)
        if (head_drive(&heads[i], &lease, now_ms))
            hal_light(heads[i].id, &heads[i].shown.lamps);
    hal_unlock();
}

static void reject(const char *where, const char *why)
{
    rejects++;
    snprintf(last_reject, sizeof last_reject, "%.40s: %.60s", where, why);
}

static void hear_trip(const char *payload, size_t size)
{
    bool tripped = false;
    struct json_field fields[] = {{"tripped", JSON_FLAG, &tripped, 0, 0, false, false}};
    const char *why = json_read(payload, size, fields, 1);
    if (why)
        reject("monitor/trip", why);
    for (size_t i = 0; !why && i < heads_count; i++)
        heads[i].tripped = tripped;
}

static void hear_order(const char *below, const char *payload, size_t size)
{
    const char *why = "no topic of this node";
    for (size_t i = 0; i < heads_count; i++) {
        char mine[TOPIC_MAX];
        snprintf(mine, sizeof mine, "head/%.16s/aspect", heads[i].id);
        if (strcmp(below, mine) == 0)
            why = head_hear(&heads[i], &lease, payload, size);
    }
    if (why)
        reject(below, why);
}

static void hear(const char *below, const char *payload, size_t size, bool retained)
{
    const char *why = NULL;
    if (strlen(config.root) + 1 + strlen(below) + size > MESSAGE_MAX)
        reject("a message", "more than 240 bytes with its topic");
    else if (strcmp(below, "beat") == 0) {
        why = retained ? "a retained beat is old" : lease_hear(&lease, payload, size, hal_now_ms());
        if (why)
            reject(below, why);
    } else if (strcmp(below, "monitor/trip") == 0)
        hear_trip(payload, size);
    else
        hear_order(below, payload, size);
}

static void on_message(struct mosquitto *link, void *unused, const struct mosquitto_message *message)
{
    (void)link;
    (void)unused;
    hal_lock();
    lease_pass_time(&lease, hal_now_ms());
    const char *below = message->topic + strlen(config.root) + 1;
    hear(below, message->payload ? message->payload : "", (size_t)message->payloadlen, message->retain);
    hal_unlock();
    drive();
}

/* Append to a text of TEXT_MAX. */
#define ADD(text, ...) snprintf((text) + strlen(text), TEXT_MAX - strlen(text), __VA_ARGS__)

static void add_list(char *text, const struct json_words *words)
{
    ADD(text, "[");
    for (size_t i = 0; i < words->count; i++)
        ADD(text, "%s\"%s\"", i ? "," : "", words->word[i]);
    ADD(text, "]");
}

static void status(char text[TEXT_MAX], const char *word)
{
    text[0] = '\0';
    ADD(text, "{\"status\":\"%s\",\"boot\":\"%s\",\"inc\":\"%s\",\"firmware\":\"c\",\"heads\":[", word, boot, lease.inc);
    for (size_t i = 0; i < heads_count; i++)
        ADD(text, "%s\"%s\"", i ? "," : "", heads[i].id);
    ADD(text, "],\"karts\":[],\"rejects\":%" PRId64 ",\"last_reject\":", rejects);
    if (last_reject[0])
        ADD(text, "\"%s\"}", last_reject);
    else
        ADD(text, "null}");
}

static void report(char text[TEXT_MAX], size_t i)
{
    const struct head *head = &heads[i];
    seqs[i] = seqs[i] % SEQ_MAX + 1;
    text[0] = '\0';
    ADD(text, "{\"boot\":\"%s\",\"seq\":%" PRId64 ",\"beat_seq\":%" PRId64, boot, seqs[i], lease.echo);
    ADD(text, ",\"after_ms\":%" PRId64 ",\"aspect\":\"%s\",\"driven\":", head->after_ms, head->shown.aspect);
    add_list(text, &head->shown.lamps);
    ADD(text, ",\"proven\":null}");
}

static void publish(struct mosquitto *link, const char *where, const char *text, int qos, bool retain)
{
    mosquitto_publish(link, NULL, where, (int)strlen(text), text, qos, retain);
}

/* Say what there is to say; the texts are made under the lock and sent outside it. A lapse is driven before
   it is told: nothing said under the new incarnation may show what the old one was told. */
static void speak(struct mosquitto *link, bool anew)
{
    char where[TOPIC_MAX], text[TEXT_MAX];
    int64_t now_ms = hal_now_ms();
    bool due = anew || now_ms >= report_at_ms;
    drive();
    hal_lock();
    lease_pass_time(&lease, now_ms);
    bool introduce = anew || strcmp(said_inc, lease.inc) != 0 || (due && said_rejects != rejects);
    strcpy(said_inc, lease.inc);
    said_rejects = introduce ? rejects : said_rejects;
    status(text, "ready");
    hal_unlock();
    if (due)
        report_at_ms = now_ms + lease.ms / REPORTS_PER_LEASE;
    if (introduce) {
        topic(where, "node", config.node, "status");
        publish(link, where, text, 1, true);
    }
    for (size_t i = 0; i < heads_count; i++) {
        hal_lock();
        bool speaks = due || said_changes[i] != heads[i].changes;
        said_changes[i] = heads[i].changes;
        if (speaks)
            report(text, i);
        hal_unlock();
        topic(where, "head", heads[i].id, "shown");
        if (speaks)
            publish(link, where, text, 0, false);
    }
}

static void subscribe(struct mosquitto *link)
{
    char where[TOPIC_MAX];
    topic(where, "beat", NULL, NULL);
    mosquitto_subscribe(link, NULL, where, 0);
    topic(where, "monitor", "trip", NULL);
    mosquitto_subscribe(link, NULL, where, 1);
    for (size_t i = 0; i < heads_count; i++) {
        topic(where, "head", heads[i].id, "aspect");
        mosquitto_subscribe(link, NULL, where, 1);
    }
}

static void on_connect(struct mosquitto *link, void *unused, int code)
{
    (void)unused;
    connected = code == 0;
    if (connected) {
        subscribe(link);
        speak(link, true);
    }
}

/* Serve one connection until it is lost. Each has a client of its own: one that is used again would send
   what it still holds of the connection before. */
static void serve(void)
{
    char where[TOPIC_MAX], text[TEXT_MAX], name[TOPIC_MAX];
    snprintf(name, sizeof name, "node-%s", config.node);
    struct mosquitto *link = mosquitto_new(name, true, NULL);
    if (!link)
        return;
    hal_lock();
    status(text, "gone");
    hal_unlock();
    topic(where, "node", config.node, "status");
    mosquitto_will_set(link, where, (int)strlen(text), text, 1, true);
    mosquitto_username_pw_set(link, name, config.password);
    mosquitto_int_option(link, MOSQ_OPT_TCP_NODELAY, 1);
    mosquitto_connect_callback_set(link, on_connect);
    mosquitto_message_callback_set(link, on_message);
    int wrong = mosquitto_connect(link, config.host, config.port, KEEPALIVE_S);
    while (wrong == MOSQ_ERR_SUCCESS) {
        wrong = mosquitto_loop(link, LOOK_MS, 1);
        if (connected && wrong == MOSQ_ERR_SUCCESS)
            speak(link, false);
    }
    fprintf(stderr, "lost the broker: %s\n", mosquitto_strerror(wrong));
    mosquitto_destroy(link);
    connected = false;
}

static bool take(const char *key, const char *value)
{
    if (strcmp(key, "--host") == 0)
        config.host = value;
    else if (strcmp(key, "--port") == 0)
        config.port = atoi(value);
    else if (strcmp(key, "--password") == 0)
        config.password = value;
    else if (strcmp(key, "--root") == 0)
        config.root = value;
    else if (strcmp(key, "--node") == 0)
        config.node = value;
    else if (strcmp(key, "--lease") == 0)
        lease.ms = atoll(value);
    else if (strcmp(key, "--fail") == 0 && head_has(value))
        fail = value;
    else if (strcmp(key, "--head") == 0 && heads_count < HEADS_MAX) {
        heads[heads_count].fail = fail;
        snprintf(heads[heads_count++].id, WORD_SIZE, "%.16s", value);
    } else
        return false;
    return true;
}

int main(int count, char **given)
{
    for (int i = 1; i + 1 < count; i += 2)
        if (!take(given[i], given[i + 1])) {
            fprintf(stderr, "%s %s cannot be used; node.c says what can\n", given[i], given[i + 1]);
            return 2;
        }
    if (count % 2 == 0 || !heads_count || !config.root[0] || !config.node[0] || lease.ms <= 0) {
        fprintf(stderr, "give --root, --node, --lease and at least one --head\n");
        return 2;
    }
    lease_begin(&lease, lease.ms, hal_draw);
    hal_draw(boot);
    mosquitto_lib_init();
    drive();
    hal_watch(WATCH_MS, drive);
    for (;;) {
        serve();
        hal_sleep_ms(RETRY_MS);
    }
}
